/** What a plot is asked to draw, and how high its axes reach. */

import type { Line } from '../model/picture.js';
import { heightRange, type Range } from '../model/scales.js';

export interface Layout {
  /** Beneath the horizontal axis; without it, the axis has no numbers. */
  across: string;
  /** Along the vertical axes: their units. */
  up?: readonly [string, string];
  logarithmic: boolean;
  /** Room at the left and right [px], so that plots stand in line. */
  sides: readonly [number, number];
  /** What the first vertical axis shows, whatever the values. */
  fixed?: Range;
  /** A value that the first vertical axis shows in any case. */
  reach?: number;
  /** Room above the curves for what is written there, as a share of their height. */
  room?: number;
}

/** A line with what may be drawn along with it. */
export interface Drawn extends Line {
  filled?: boolean;
  /** In the colour of the text. */
  inked?: boolean;
  /** An interval around it. */
  low?: Float32Array;
  high?: Float32Array;
}

const LOWER = 0.25; // of a height that is kept: below that, it follows its curves
const NOISE = 0.08; // of the highest value, with the margin: what lies so little below 0 is noise, and 0 the foot
const DECADES = 4; // of a logarithmic axis

/** What a vertical axis shows. It stays as it was while the curves fit, so that a curve is seen to change. */
export function heightOf(
  lines: readonly Drawn[],
  shown: Range,
  { fixed, reach, room, logarithmic }: Layout,
  second: boolean,
  before: Range | undefined
): Range {
  if (fixed && !second) {
    return fixed;
  }
  const curves = lines
    .filter(line => line.second === second)
    .flatMap(({ curve, high }) => (high ? [curve, { x: curve.x, y: high }] : [curve]));
  const also = { x: Float64Array.of(shown[0]), y: Float32Array.of(second ? NaN : (reach ?? NaN)) };
  const [foot, highest] = heightRange([...curves, also], shown, logarithmic && !second, DECADES);
  const top = logarithmic || second ? highest : highest + (room ?? 0) * (highest - Math.max(foot, 0));
  const now: Range = [foot < 0 && foot > -NOISE * top ? 0 : foot, top];
  const fits = before && before[0] <= now[0] && before[1] >= now[1] && now[1] >= before[1] * LOWER;
  return fits ? before : now;
}
