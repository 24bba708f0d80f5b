/** The scans of a frame: their curves, what was found of each, and how they are told apart. */

import { curvesOf, unpacked, type Curve, type Header, type Told } from './payload.js';
import type { Range } from './scales.js';

export interface ScanCurve extends Curve {
  /** Of the scan, counted from 1. */
  number?: number;
  role?: 'mean' | 'scatter' | 'scan';
  low?: Float32Array;
  high?: Float32Array;
}

export interface Scans {
  curves: ScanCurve[];
  /** From which count on a pixel is saturated. */
  saturation: number | null;
  saturationText: string;
  /** Where pixels are saturated [nm], and the same in words. */
  stretches: Range[];
  saturated: string;
}

interface ScansHeader extends Header {
  curves: Told<ScanCurve>[];
  saturation?: number;
  saturation_text?: string;
  stretches?: [number, number][];
  saturated?: string;
}

/** One scan in words. */
export interface ScanRow {
  number: number;
  odd: boolean;
  level: string;
  noise: string;
  highest: string;
  share: string;
  saturated: string;
  verdict: string;
  reason: string;
}

/** Something that a frame is held against. */
export interface Criterion {
  title: string;
  found: string;
  limit: string;
  standing: string;
  judged: string;
  reason: string;
}

export interface Checked {
  title: string;
  verdict: string;
  words: string;
  reasons: string[];
  scans: ScanRow[];
  figures: Criterion[];
  mean: string;
  manifest: string;
}

/** A mark for each verdict, beside its word. */
const MARKS: Record<string, string | undefined> = {
  'may be used': '✓',
  'with care': '!',
  not: '✗',
  'left out': '–'
};

const WORDS: Record<string, string | undefined> = {
  not: 'may not be used',
  'with care': 'may be used with care'
};

export function scansOf(data: ArrayBuffer): Scans {
  const [header, arrays] = unpacked<ScansHeader>(data, 'frame');
  return {
    curves: curvesOf(header.curves, arrays),
    saturation: header.saturation ?? null,
    saturationText: header.saturation_text ?? '',
    stretches: header.stretches ?? [],
    saturated: header.saturated ?? ''
  };
}

/** What was found, once there is something. */
export function checkedOf(value: unknown): Checked | undefined {
  const given = (value ?? {}) as Partial<Checked>;
  if (given.verdict === undefined) {
    return undefined;
  }
  const empty = { title: '', words: '', reasons: [], scans: [], figures: [], mean: '', manifest: '' };
  return { ...empty, ...given, verdict: given.verdict };
}

export function markOf(verdict: string): string {
  return MARKS[verdict] ?? '?';
}

/** A verdict on a whole frame. */
export function wordsOf(verdict: string): string {
  return WORDS[verdict] ?? verdict;
}

/** Places in the palette of the scans that stand out: odd ones, and those that are left out. */
export function placesOf(rows: readonly ScanRow[]): Map<number, number> {
  const out = rows.filter(row => row.odd || row.verdict === 'left out');
  return new Map(out.map((row, i) => [row.number, i + 1]));
}

/** Scans that are left out with their reasons; numbers may have come as text. */
export type LeftOut = Record<string, string>;

/** The same with one more scan left out, or with one that is used again. */
export function withReason(leftOut: LeftOut, number: number, reason: string | null): LeftOut {
  const others = Object.entries(leftOut).filter(([name]) => name !== String(number));
  return Object.fromEntries(reason === null ? others : [...others, [String(number), reason]]);
}
