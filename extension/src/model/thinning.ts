/** Fewer points that look the same: of each pixel, the lowest and the highest. */

import { firstFrom, type Range } from './scales.js';
import type { Curve } from './payload.js';

/** Points of a curve in a range, at most four for each of so many pixels; NaN where it is broken. */
export function thinned({ x, y }: Curve, range: Range, pixels: number): [number, number][] {
  const first = Math.max(firstFrom(x, range[0]) - 1, 0);
  const last = Math.min(firstFrom(x, range[1]) + 1, x.length);
  const points: [number, number][] = [];
  if (last - first <= 4 * pixels) {
    for (let i = first; i < last; i++) {
      points.push([x[i] ?? NaN, y[i] ?? NaN]);
    }
    return points;
  }
  const width = (range[1] - range[0]) / pixels;
  let start = first;
  while (start < last) {
    const cell = Math.floor(((x[start] ?? 0) - range[0]) / width);
    let end = start;
    const kept = new Set([start]);
    let [lowest, highest] = [start, start];
    while (end < last && Math.floor(((x[end] ?? 0) - range[0]) / width) === cell) {
      const value = y[end] ?? NaN;
      if (Number.isNaN(value)) {
        kept.add(end);
      }
      lowest = value < (y[lowest] ?? NaN) || Number.isNaN(y[lowest]) ? end : lowest;
      highest = value > (y[highest] ?? NaN) || Number.isNaN(y[highest]) ? end : highest;
      end++;
    }
    const broken = kept.size > 1;
    const chosen = broken ? [...kept, lowest, highest] : [start, lowest, highest, end - 1];
    for (const i of [...new Set(chosen)].sort((a, b) => a - b).slice(0, 4)) {
      points.push([x[i] ?? NaN, y[i] ?? NaN]);
    }
    start = end;
  }
  return points;
}
