/** What can be turned, within which limits, and how it is written. */

import { number, withUnits } from './text.js';

export type Kind = 'thickness' | 'distance' | 'hours' | 'level' | 'time';

export interface Control {
  control: Kind;
  /** A part or a source; empty for what concerns all. */
  of: string;
  label: string;
  units: string;
  low: number;
  high: number;
  step: number;
  bench: number | null;
  /** Where that stood, if not on a bench. */
  stood?: 'measured';
  /** Why it cannot be turned; empty if it can. */
  fixed: string;
}

/** What belongs to each source, in the order of its columns. */
export const OF_SOURCES: readonly Kind[] = ['distance', 'hours', 'level'];

const FINEST = 1e-9; // of a step

/** The nearest value that a control may have: its steps count from its lower end, and the bench's own always holds. */
export function stepped(value: number, { low, high, step, bench }: Control): number {
  if (bench !== null && Math.abs(value - bench) <= step * FINEST) {
    return bench;
  }
  const within = Math.min(Math.max(value, low), high);
  const near = step > 0 ? low + Math.round((within - low) / step) * step : within;
  return Number(Math.min(near, high).toPrecision(10));
}

/** Whether a value is another one than the bench has. */
export function isTurned(value: number, { bench, step }: Control): boolean {
  return bench === null || Math.abs(value - bench) > step * FINEST;
}

/** A value as a person reads it. */
export function written(
  value: number | null,
  { control, units }: Pick<Control, 'control' | 'units'>
): string {
  if (value === null) {
    return 'not known';
  }
  return control === 'time' && value === 0 ? 'no limit' : withUnits(number(value), units);
}

/** Where a value lies between the ends, from 0 to 1. */
export function placeOf(value: number, { low, high }: Control): number {
  return high > low ? Math.min(Math.max((value - low) / (high - low), 0), 1) : 0;
}

/** What can be swept: each kind once, a thickness for each part. */
export function sweepable(controls: readonly Control[]): { control: Kind; parts: string[] }[] {
  const kinds: Kind[] = ['thickness', ...OF_SOURCES];
  return kinds.flatMap(control => {
    const free = controls.filter(one => one.control === control && one.fixed === '');
    return free.length === 0
      ? []
      : [{ control, parts: control === 'thickness' ? free.map(one => one.of) : [] }];
  });
}
