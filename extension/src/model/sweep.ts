/** What becomes of a figure while one thing is turned from end to end. */

import { curvesOf, unpacked, type Curve, type Header, type Told } from './payload.js';
import { firstFrom } from './scales.js';

/** What is swept, as Python takes it. */
export interface Asked {
  criterion: string;
  control: string;
  /** A part; empty for all sources at once. */
  of: string;
}

export interface SweptCurve extends Curve {
  low?: Float32Array;
  high?: Float32Array;
}

export interface Crossing {
  source: string;
  at: number;
  text: string;
}

export interface Sweep extends Asked {
  /** Words at the axes, with units. */
  across: string;
  up: string;
  limit: number | null;
  limitText: string;
  crossings: Crossing[];
  notes: string[];
  curves: SweptCurve[];
}

interface SweepHeader extends Header, Asked {
  across: string;
  up: string;
  limit: number | null;
  limit_text?: string;
  crossings?: Crossing[];
  notes?: string[];
  curves: Told<SweptCurve>[];
}

/** A sweep with its curves. */
export function sweepOf(data: ArrayBuffer): Sweep {
  const [header, arrays] = unpacked<SweepHeader>(data, 'sweep');
  const { criterion, control, of, across, up, limit, limit_text, crossings, notes } = header;
  return {
    ...{ criterion, control, of, across, up, limit },
    limitText: limit_text ?? '',
    crossings: crossings ?? [],
    notes: notes ?? [],
    curves: curvesOf(header.curves, arrays)
  };
}

/** What a sweep asks for, if it asks for anything. */
export function askedOf(value: unknown): Asked | undefined {
  const { criterion, control, of } = (value ?? {}) as Partial<Asked>;
  return criterion === undefined || control === undefined ? undefined : { criterion, control, of: of ?? '' };
}

/** The value of a curve between its steps, along a straight line; NaN outside of them. */
export function between({ x, y }: Pick<Curve, 'x' | 'y'>, at: number): number {
  const above = firstFrom(x, at);
  const [low = NaN, high = NaN] = [x[above - 1] ?? x[0], x[above]];
  const [from = NaN, to = NaN] = [y[Math.max(above - 1, 0)], y[above]];
  return at === high ? to : at < low ? NaN : from + ((to - from) * (at - low)) / (high - low);
}

/** Rows for labels along an axis, so that none lies over its neighbour; they come in ascending order. */
export function rows(places: readonly number[], width: number): number[] {
  const ends: number[] = [];
  return places.map(place => {
    const free = ends.findIndex(end => place - end >= width);
    const row = free < 0 ? ends.length : free;
    ends[row] = place;
    return row;
  });
}
