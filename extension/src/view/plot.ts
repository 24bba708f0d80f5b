/** Curves on two axes, on a canvas of our own: small enough to be saved with every notebook. */

import { wholeRange, type Range } from '../model/scales.js';
import { share } from '../model/scales.js';
import { element, isDark } from './element.js';
import { heightOf, type Drawn, type Layout } from './layout.js';
import { all, counted, listen, type Dispose } from './listening.js';
import { paint, type Box } from './painting.js';

/** What a plot tells: it was drawn, a range was chosen in it, the pointer is at a place or has left. */
export interface Heard {
  drawn: () => void;
  chosen: (range: Range) => void;
  pointed: (at: number | null) => void;
}

export interface Plot {
  /** Lies over the plotting area, and may hold what belongs there. */
  over: HTMLElement;
  whole: () => Range;
  shown: () => Range;
  draw: (lines: readonly Drawn[], layout: Layout) => void;
  show: (range: Range) => void;
  hide: (isHidden: (line: Drawn) => boolean) => void;
  /** Put the cursor at a place; null takes it away. */
  point: (at: number | null) => void;
  toPixel: (value: number) => number;
  /** From the top, on the first vertical axis. */
  toHeight: (value: number) => number;
  toValue: (clientX: number) => number;
  repaint: () => void;
  dispose: Dispose;
}

const [ABOVE, BELOW, QUIET] = [8, 36, 6]; // px over and under the plotting area
const LEAST = 3; // px that a drag is wide

/** A plot in an element, empty at first; it is as large as the element. */
export function plotIn(host: HTMLElement, heard: Heard): Plot {
  const canvas = element('canvas', { 'aria-hidden': 'true' });
  const cursor = element('div', { class: 'sbl-cursor', hidden: '' });
  const chosen = element('div', { class: 'sbl-chosen', hidden: '' });
  const over = element('div', { class: 'sbl-over' }, chosen, cursor);
  host.append(canvas, over);
  const pen = canvas.getContext('2d');
  let lines: readonly Drawn[] = [];
  let layout: Layout = { across: '', logarithmic: false, sides: [0, 0] };
  let isHidden = (_: Drawn) => false;
  let whole: Range = [0, 1];
  let shown = whole;
  let heights: [Range | undefined, Range | undefined] = [undefined, undefined];
  let size: Range = [0, 0];
  let isDue = false;
  let pointed: number | null = null;

  const box = (): Box => ({
    left: layout.sides[0],
    right: Math.max(size[0] - layout.sides[1], layout.sides[0] + 1),
    top: ABOVE,
    foot: Math.max(size[1] - (layout.across === '' ? QUIET : BELOW), ABOVE + 1)
  });
  const draw = () => {
    isDue = false;
    const ratio = window.devicePixelRatio || 1;
    const [wide, high] = size.map(one => Math.round(one * ratio)) as [number, number];
    if (!pen || wide === 0 || high === 0) {
      return;
    }
    if (canvas.width !== wide || canvas.height !== high) {
      [canvas.width, canvas.height] = [wide, high];
    }
    const visible = lines.filter(line => !isHidden(line));
    const [first, second] = [false, true].map(side =>
      heightOf(visible, shown, layout, side, heights[side ? 1 : 0])
    ) as [Range, Range];
    heights = [first, second];
    const style = getComputedStyle(host);
    const grid = style.getPropertyValue('--sbl-grid') || '#8884';
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, size[0], size[1]);
    paint(pen, {
      ...{ lines: visible, shown, heights: [first, second], layout, box: box() },
      ...{ ink: style.color, grid, dark: isDark(host) }
    });
    const { left, right, top, foot } = box();
    over.style.left = `${String(left)}px`;
    over.style.top = `${String(top)}px`;
    over.style.width = `${String(right - left)}px`;
    over.style.height = `${String(foot - top)}px`;
    point(pointed);
    heard.drawn();
  };
  /** Once, whatever else happens before the next frame. */
  const repaint = () => {
    if (!isDue) {
      isDue = true;
      queueMicrotask(draw);
    }
  };
  const width = () => box().right - box().left;
  const toPixel = (value: number) => share(value, shown, false) * width();
  const toValue = (clientX: number) => {
    const at = (clientX - over.getBoundingClientRect().left) / width();
    return shown[0] + at * (shown[1] - shown[0]);
  };
  const point = (at: number | null) => {
    pointed = at;
    cursor.hidden = at === null || at < shown[0] || at > shown[1];
    cursor.style.left = `${String(at === null ? 0 : toPixel(at))}px`;
  };
  const resized = new ResizeObserver(() => {
    size = [host.clientWidth, host.clientHeight];
    draw();
  });
  resized.observe(host);
  let start: number | undefined;
  const span = ({ clientX }: MouseEvent): Range => {
    const ends = [start ?? clientX, clientX].sort((a, b) => a - b).map(toValue);
    const [low = 0, high = 0] = ends.map(end => Math.min(Math.max(end, shown[0]), shown[1]));
    return [low, high];
  };
  const dispose = all(
    counted(() => {
      resized.disconnect();
    }),
    listen<PointerEvent>(over, 'pointerdown', event => {
      if (event.button === 0 && !event.shiftKey) {
        start = event.clientX;
        over.setPointerCapture(event.pointerId);
      }
    }),
    listen<PointerEvent>(over, 'pointermove', event => {
      const at = Math.min(Math.max(toValue(event.clientX), shown[0]), shown[1]);
      point(at);
      heard.pointed(at);
      if (start !== undefined) {
        const [left, right] = span(event).map(toPixel) as [number, number];
        chosen.hidden = right - left < LEAST;
        chosen.style.left = `${String(left)}px`;
        chosen.style.width = `${String(right - left)}px`;
      }
    }),
    listen<PointerEvent>(over, 'pointerup', event => {
      const range = span(event);
      if (start !== undefined && !chosen.hidden) {
        heard.chosen(range);
      }
      start = undefined;
      chosen.hidden = true;
    }),
    listen(over, 'pointercancel', () => {
      start = undefined;
      chosen.hidden = true;
    }),
    listen(over, 'pointerleave', () => {
      point(null);
      heard.pointed(null);
    }),
    listen(over, 'dblclick', () => {
      heard.chosen(whole);
    })
  );
  return {
    over,
    whole: () => whole,
    shown: () => shown,
    draw: (given, how) => {
      const before = whole;
      if (how.logarithmic !== layout.logarithmic || how.reach !== layout.reach) {
        heights = [undefined, undefined];
      }
      [lines, layout] = [given, how];
      whole = wholeRange(lines.map(line => line.curve));
      if (before[0] !== whole[0] || before[1] !== whole[1]) {
        shown = whole;
        heights = [undefined, undefined];
      }
      repaint();
    },
    show: range => {
      shown = range;
      heights = [undefined, undefined];
      repaint();
    },
    hide: how => {
      isHidden = how;
      heights = [undefined, undefined];
      repaint();
    },
    point,
    toPixel,
    toHeight: value => {
      const { top, foot } = box();
      return (foot - top) * (1 - share(value, heights[0] ?? [0, 1], layout.logarithmic));
    },
    toValue,
    repaint,
    dispose
  };
}
