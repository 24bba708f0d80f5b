/** One strip of the light's way: curves along the wavelength, and what is marked in it. */

import { curvesOf, unpacked, type Curve, type Header, type Told } from './payload.js';
import { firstFrom, wholeRange, within, type Range } from './scales.js';

export interface StripCurve extends Curve {
  role?: 'source' | 'part' | 'all' | 'initiator';
}

export interface Strip {
  curves: StripCurve[];
  /** What is required [nm]. */
  band: Range | null;
  /** The wavelength of the data sheet [nm]. */
  dataSheet: number | null;
  /** In words, by source. */
  figures: Record<string, string>;
  /** What these figures are. */
  note: string;
}

interface StripHeader extends Header {
  curves: Told<StripCurve>[];
  band?: [number, number] | null;
  data_sheet?: number | null;
  figures?: Record<string, string>;
  note?: string;
}

const SEEN = 0.02; // of a curve's highest value; below that, nothing happens
const MARGIN = 4; // nm on both sides of where something happens

/** Bytes as a widget gets them, in a buffer of their own; nothing if there are none yet. */
export function bytesOf(sent: unknown): ArrayBuffer | undefined {
  if (!(sent instanceof DataView) || sent.byteLength === 0) {
    return undefined;
  }
  return new Uint8Array(sent.buffer, sent.byteOffset, sent.byteLength).slice().buffer;
}

/** What a strip shows. */
export function stripOf(data: ArrayBuffer): Strip {
  const [header, arrays] = unpacked<StripHeader>(data, 'strip');
  return {
    curves: curvesOf(header.curves, arrays),
    band: header.band ?? null,
    dataSheet: header.data_sheet ?? null,
    figures: header.figures ?? {},
    note: header.note ?? ''
  };
}

/** Between which wavelengths something happens: where a source sends light, and what is required. */
export function litRange({ curves, band, dataSheet }: Strip): Range {
  const whole = wholeRange(curves);
  const ends = [...(band ?? []), ...(dataSheet === null ? [] : [dataSheet])];
  for (const { x, y } of curves) {
    const least = SEEN * y.reduce((most, value) => (value > most ? value : most), 0);
    const lit = Array.from(x).filter((_, i) => (y[i] ?? NaN) > least);
    ends.push(...lit.slice(0, 1), ...lit.slice(-1));
  }
  return ends.length < 2 ? whole : within([Math.min(...ends) - MARGIN, Math.max(...ends) + MARGIN], whole);
}

/** The value of a curve where it has a sample next to a place; NaN outside it. */
export function valueAt({ x, y }: Pick<Curve, 'x' | 'y'>, at: number): number {
  const above = firstFrom(x, at);
  const below = Math.max(above - 1, 0);
  if (at < (x[0] ?? Infinity) || at > (x[x.length - 1] ?? -Infinity)) {
    return NaN;
  }
  return y[at - (x[below] ?? 0) <= (x[above] ?? Infinity) - at ? below : above] ?? NaN;
}
