/** Lines, axes and intervals on a canvas. */

import { colourOf, dashOf } from '../model/palette.js';
import { decades, firstFrom, share, ticks, type Range } from '../model/scales.js';
import { number, tickLabels } from '../model/text.js';
import { thinned } from '../model/thinning.js';
import type { Drawn, Layout } from './layout.js';

/** The plotting area [px]. */
export interface Box {
  left: number;
  right: number;
  top: number;
  foot: number;
}

export interface Scene {
  lines: readonly Drawn[];
  shown: Range;
  /** What the vertical axes show. */
  heights: readonly [Range, Range];
  layout: Layout;
  box: Box;
  ink: string;
  grid: string;
  dark: boolean;
}

const FILLING = 0.18; // opacity
const UNITS = 7; // px from the edge to the middle of what stands along an axis
const LINE = 16; // px, of a number
const FONT = '11px system-ui, sans-serif';
const [WIDE, HIGH] = [80, 36]; // px from one number to the next, about
const LEVEL = 0.2; // px; a stretch as level as that needs its ends only
const MOST = 4; // samples in a pixel that are drawn one by one

/** Paint everything; the canvas is empty. */
export function paint(pen: CanvasRenderingContext2D, scene: Scene): void {
  const { lines, box } = scene;
  axes(pen, scene);
  pen.save();
  pen.beginPath();
  pen.rect(box.left, box.top, box.right - box.left, box.foot - box.top);
  pen.clip();
  pen.lineJoin = 'round';
  for (const line of lines) {
    const colour = line.inked ? scene.ink : colourOf(line.place, scene.dark);
    pen.fillStyle = pen.strokeStyle = colour;
    pen.globalAlpha = FILLING;
    const drawn = stretches(points(scene, line.curve.y, line));
    if (line.filled) {
      const foot = footOf(scene, line);
      pen.fill(area(drawn, () => foot));
    }
    if (line.low && line.high) {
      const [low, high] = [line.low, line.high].map(y => stretches(points(scene, y, line, true)));
      pen.fill(area(high ?? [], (i, k) => low?.[i]?.[k]?.[1] ?? box.foot));
    }
    pen.globalAlpha = 1;
    pen.lineWidth = line.width;
    pen.setLineDash(dashOf(line.place));
    pen.stroke(course(drawn));
  }
  pen.restore();
}

type Point = [number, number];

/** Samples of a line in pixels, as many as are seen, or every one; those next to the shown range are included. */
function points(
  { shown, heights, layout, box }: Scene,
  y: Float32Array,
  { curve, second }: Drawn,
  every = false
): Point[] {
  const { x } = curve;
  const logarithmic = layout.logarithmic && !second;
  const height = heights[second ? 1 : 0];
  const [wide, high] = [box.right - box.left, box.foot - box.top];
  const across = (value: number) => box.left + share(value, shown, false) * wide;
  const up = (value: number) => box.foot - share(value, height, logarithmic) * high;
  const first = Math.max(firstFrom(x, shown[0]) - 1, 0);
  const end = Math.min(firstFrom(x, shown[1]) + 1, x.length);
  if (!every && end - first > MOST * wide) {
    return thinned({ ...curve, y }, shown, wide).map(([a, b]) => [across(a), up(b)]);
  }
  const found: Point[] = [];
  for (let i = first; i < end; i++) {
    const value = y[i] ?? NaN;
    const point: Point = [across(x[i] ?? NaN), Number.isNaN(value) ? NaN : up(value)];
    const before = found[found.length - 2];
    const last = found[found.length - 1];
    if (!every && before && last && isLevel(before, last) && isLevel(before, point)) {
      last[0] = point[0];
    } else {
      found.push(point);
    }
  }
  return found;
}

function isLevel([, one]: Point, [, other]: Point): boolean {
  return Math.abs(one - other) < LEVEL;
}

/** Where a filling ends [px]: at 0, or where the axis ends. */
function footOf({ heights, layout, box }: Scene, { second }: Drawn): number {
  const [low, high] = heights[second ? 1 : 0];
  const zero = layout.logarithmic && !second ? 0 : Math.max(-low / (high - low), 0);
  return box.foot - zero * (box.foot - box.top);
}

/** What lies between gaps. */
function stretches(of: readonly Point[]): Point[][] {
  const found: Point[][] = [];
  let now: Point[] | undefined;
  for (const point of of) {
    if (Number.isNaN(point[1])) {
      now = undefined;
    } else if (now) {
      now.push(point);
    } else {
      found.push((now = [point]));
    }
  }
  return found;
}

function course(of: readonly Point[][]): Path2D {
  const path = new Path2D();
  for (const stretch of of) {
    stretch.forEach(([x, y], i) => {
      path[i === 0 ? 'moveTo' : 'lineTo'](x, y);
    });
    const [only] = stretch;
    if (stretch.length === 1 && only) {
      path.rect(only[0] - 1, only[1] - 1, 2, 2);
    }
  }
  return path;
}

/** From each stretch down to its foot and back. */
function area(of: readonly Point[][], foot: (stretch: number, point: number) => number): Path2D {
  const path = course(of.map((stretch, i) => [...stretch, ...back(stretch, k => foot(i, k))]));
  return path;
}

function back(stretch: readonly Point[], foot: (point: number) => number): Point[] {
  return stretch.map(([x], k): Point => [x, foot(k)]).reverse();
}

function axes(pen: CanvasRenderingContext2D, { lines, shown, heights, layout, box, ink, grid }: Scene): void {
  const [wide, high] = [box.right - box.left, box.foot - box.top];
  const rule = (from: Point, to: Point) => {
    pen.beginPath();
    pen.moveTo(...from);
    pen.lineTo(...to);
    pen.stroke();
  };
  const half = (value: number) => Math.round(value) + 0.5;
  pen.font = FONT;
  pen.fillStyle = ink;
  pen.lineWidth = 1;
  pen.setLineDash([]);
  pen.textBaseline = 'top';
  pen.textAlign = 'center';
  const across = ticks(shown, Math.max(wide / WIDE, 2));
  const labels = tickLabels(across);
  for (const [i, value] of across.entries()) {
    const x = half(box.left + share(value, shown, false) * wide);
    pen.strokeStyle = grid;
    rule([x, box.top], [x, box.foot]);
    if (layout.across !== '') {
      const text = labels[i] ?? '';
      const half = pen.measureText(text).width / 2;
      pen.fillText(text, Math.max(Math.min(x, box.right + layout.sides[1] - half), half), box.foot + 5);
    }
  }
  if (layout.across !== '') {
    pen.fillText(layout.across, (box.left + box.right) / 2, box.foot + 20);
  }
  pen.textBaseline = 'middle';
  const isSecond = lines.some(line => line.second);
  heights.slice(0, isSecond ? 2 : 1).forEach((height, side) => {
    const logarithmic = layout.logarithmic && side === 0;
    pen.textAlign = side === 0 ? 'right' : 'left';
    const marks = logarithmic ? tens(decades(height), high) : ticks(height, Math.max(high / HIGH, 2));
    for (const value of marks) {
      const y = half(box.foot - share(value, height, logarithmic) * high);
      if (side === 0) {
        pen.strokeStyle = grid;
        rule([box.left, y], [box.right, y]);
      }
      pen.fillText(number(value), side === 0 ? box.left - 6 : box.right + 6, y);
    }
  });
  const [left, right] = layout.sides;
  const ends = [box.left - left + UNITS, box.right + right - UNITS];
  layout.up?.slice(0, isSecond ? 2 : 1).forEach((units, side) => {
    upwards(pen, units, [ends[side] ?? 0, (box.top + box.foot) / 2]);
  });
  pen.strokeStyle = ink;
  rule([box.left, half(box.foot)], [box.right, half(box.foot)]);
}

/** Text along a vertical axis, about its middle. */
function upwards(pen: CanvasRenderingContext2D, text: string, [x, y]: Point): void {
  pen.save();
  pen.translate(x, y);
  pen.rotate(-Math.PI / 2);
  pen.textAlign = 'center';
  pen.fillText(text, 0, 0);
  pen.restore();
}

/** Marks of a logarithmic axis; powers of ten alone, where there is no room for all. */
function tens(marks: number[], high: number): number[] {
  const isPower = (value: number) => Math.abs(Math.log10(value) % 1) < 1e-9;
  return marks.length * LINE > high ? marks.filter(isPower) : marks;
}
