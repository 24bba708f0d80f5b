/** Which part of the axes is shown, and where a value lies in it. */

import type { Curve } from './payload.js';

export type Range = readonly [number, number];

const DECADES = 8; // of a logarithmic axis; below that there is noise
const MARGIN = 0.05; // of the height, above and below the curves
const NARROWEST = 0.1; // nm, of a band
const CLOSEST = 1e-6; // of the whole axis that is left of a zoom

/** From the first sample of any curve to the last. */
export function wholeRange(curves: readonly Curve[]): Range {
  let [low, high] = [Infinity, -Infinity];
  for (const { x } of curves) {
    low = Math.min(low, x[0] ?? Infinity);
    high = Math.max(high, x[x.length - 1] ?? -Infinity);
  }
  if (low > high) {
    return [0, 1];
  }
  return low === high ? [low - 0.5, high + 0.5] : [low, high];
}

/** What the vertical axis must show so that the curves fit within a part of the horizontal one. */
export function heightRange(
  curves: readonly Pick<Curve, 'x' | 'y'>[],
  [low, high]: Range,
  logarithmic: boolean,
  shownDecades = DECADES
): Range {
  let [least, most] = [Infinity, -Infinity];
  for (const { x, y } of curves) {
    for (let i = firstFrom(x, low); i < x.length && (x[i] ?? Infinity) <= high; i++) {
      const value = y[i] ?? NaN;
      if (Number.isFinite(value) && (!logarithmic || value > 0)) {
        least = Math.min(least, value);
        most = Math.max(most, value);
      }
    }
  }
  if (least > most) {
    return logarithmic ? [0.1, 1] : [0, 1];
  }
  if (logarithmic) {
    const floor = Math.max(Math.floor(Math.log10(least)), Math.ceil(Math.log10(most)) - shownDecades);
    return [10 ** floor, Math.max(most * 1.3, 10 ** (floor + 1))];
  }
  const foot = Math.min(least, 0);
  const top = Math.max(most, 0);
  const margin = (top - foot || 1) * MARGIN;
  return [foot < 0 ? foot - margin : 0, top + margin];
}

/** A narrower or (with a factor above 1) wider range around a value that keeps its place. */
export function zoomed(shown: Range, whole: Range, factor: number, about: number): Range {
  const width = Math.max((shown[1] - shown[0]) * factor, (whole[1] - whole[0]) * CLOSEST);
  const share = (about - shown[0]) / (shown[1] - shown[0]);
  return within([about - share * width, about + (1 - share) * width], whole);
}

/** The range moved by a share of its width. */
export function panned(shown: Range, whole: Range, share: number): Range {
  const step = (shown[1] - shown[0]) * share;
  return within([shown[0] + step, shown[1] + step], whole);
}

/** A range moved, and cut if need be, so that it shows nothing outside another. */
export function within([low, high]: Range, whole: Range): Range {
  const width = Math.min(high - low, whole[1] - whole[0]);
  const start = Math.min(Math.max(low, whole[0]), whole[1] - width);
  return [start, start + width];
}

/** How narrow a band may be on an axis [nm]. */
export function narrowest(whole: Range): number {
  return Math.min(NARROWEST, (whole[1] - whole[0]) / 100);
}

/** Number of the first sample at or above a value. */
export function firstFrom(x: Float64Array, value: number): number {
  let [low, high] = [0, x.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((x[middle] ?? Infinity) < value) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low;
}

/** Number of the sample that lies nearest to a value; −1 without samples. */
export function nearest(x: Float64Array, value: number): number {
  const above = Math.min(firstFrom(x, value), x.length - 1);
  const below = Math.max(above - 1, 0);
  if (x.length === 0) {
    return -1;
  }
  return value - (x[below] ?? 0) <= (x[above] ?? 0) - value ? below : above;
}

/** Round numbers within a range, about as many as asked for. */
export function ticks([low, high]: Range, count: number): number[] {
  const rough = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find(multiple => multiple * power >= rough) ?? 10);
  const found: number[] = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++) {
    found.push(Number((i * step).toPrecision(12)));
  }
  return found;
}

/** Powers of ten within a range; of few decades also twice and five times them. */
export function decades([low, high]: Range): number[] {
  const multiples = Math.log10(high / low) > 4 ? [1] : [1, 2, 5];
  const found: number[] = [];
  for (let power = Math.floor(Math.log10(low) + 1e-9); 10 ** power <= high; power++) {
    found.push(...multiples.map(multiple => Number((multiple * 10 ** power).toPrecision(12))));
  }
  return found.filter(value => value >= low * (1 - 1e-9) && value <= high);
}

/** Where a value lies in a range, from 0 to 1; a value that a logarithm does not have lies below it. */
export function share(value: number, [low, high]: Range, logarithmic: boolean): number {
  if (!logarithmic) {
    return (value - low) / (high - low);
  }
  const least = low / 10;
  return Math.log(Math.max(value, least) / low) / Math.log(high / low);
}
