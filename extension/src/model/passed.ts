/** What parts pass: curves with intervals, gaps where nothing is known, figures in words. */

import type { Cell } from './comparison.js';
import { cellOf } from './comparison.js';
import { curvesOf, unpacked, type Curve, type Header, type Told } from './payload.js';
import type { Range } from './scales.js';

export interface PassedCurve extends Curve {
  role?: 'measured' | 'dry' | 'bonded';
  low?: Float32Array;
  high?: Float32Array;
}

export interface Passed {
  curves: PassedCurve[];
  /** Where nothing follows from what was measured [nm]. */
  gaps: Range[];
  /** What is required [nm]. */
  band: Range | null;
  dataSheet: number | null;
}

interface PassedHeader extends Header {
  curves: Told<PassedCurve>[];
  gaps?: [number, number][];
  band?: [number, number] | null;
  data_sheet?: number | null;
}

export interface Quoted {
  title: string;
  columns: { label: string; told: string }[];
  rows: { wavelength: number; told: string; cells: { text: string; interval: string; units: string }[] }[];
  cautions: string[];
  limits: string[];
}

export function passedOf(data: ArrayBuffer): Passed {
  const [header, arrays] = unpacked<PassedHeader>(data, 'transmission');
  return {
    curves: curvesOf(header.curves, arrays),
    gaps: header.gaps ?? [],
    band: header.band ?? null,
    dataSheet: header.data_sheet ?? null
  };
}

/** Figures in words, once there are some. */
export function quotedOf(value: unknown): Quoted | undefined {
  const given = (value ?? {}) as Partial<Quoted>;
  if (given.columns === undefined) {
    return undefined;
  }
  return { title: '', rows: [], cautions: [], limits: [], ...given, columns: given.columns };
}

/** Cells of the table, column by column, cut where their decimals begin. */
export function cellsOf({ columns, rows }: Quoted): Cell[][] {
  return columns.map((_, k) =>
    rows.map(({ cells }) => {
      const { text = '', interval = '', units = '' } = cells[k] ?? {};
      return cellOf({ value: null, units, text, interval });
    })
  );
}

/** Wavelengths with one more, ascending; those that are there already are not doubled. */
export function withWavelength(now: readonly number[], more: number): number[] {
  return [...new Set([...now, more])].sort((a, b) => a - b);
}
