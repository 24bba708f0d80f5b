/** Hands on a chart: wheel, shift-drag and keys move the range and the cursor. */

import { nearest, panned, within, zoomed, type Range } from '../model/scales.js';
import { all, listen, type Dispose } from './listening.js';

/** What can be moved. */
export interface Chart {
  over: HTMLElement;
  whole: () => Range;
  shown: () => Range;
  toValue: (clientX: number) => number;
}

export interface Moves {
  show: (range: Range) => void;
  /** The cursor goes to a sample. */
  point: (at: number) => void;
}

/** What hands can do, in words. */
export const HINT = 'Arrow keys read values; + and − zoom, 0 shows all; drag to zoom, with shift to move.';

const STEP = 0.1; // of the shown range, for a pan with keys
const CLOSER = 0.8;

/** The range one step closer or farther, around a place that stays where it is. */
export function zoom(chart: Chart, closer: boolean, about: number): Range {
  return zoomed(chart.shown(), chart.whole(), closer ? CLOSER : 1 / CLOSER, about);
}

/** The middle of what is shown. */
export function middle(chart: Chart): number {
  const [low, high] = chart.shown();
  return (low + high) / 2;
}

/** Listen to wheel, pointer and keys. */
export function movable(host: HTMLElement, chart: Chart, places: () => Float64Array, moves: Moves): Dispose {
  let cursor: number | undefined;
  const zoomBy = (closer: boolean, about = middle(chart)) => {
    moves.show(zoom(chart, closer, about));
  };
  const pan = (share: number) => {
    moves.show(panned(chart.shown(), chart.whole(), share));
  };
  const step = (by: number) => {
    const [low, high] = chart.shown();
    const x = places();
    const at = cursor === undefined ? nearest(x, middle(chart)) : nearest(x, cursor) + by;
    const value = x[Math.min(Math.max(at, 0), x.length - 1)];
    if (value !== undefined) {
      cursor = value;
      if (value < low || value > high) {
        const half = (high - low) / 2;
        moves.show(within([value - half, value + half], chart.whole()));
      }
      moves.point(value);
    }
  };
  const keys: Record<string, (shift: boolean) => void> = {
    ArrowLeft: shift => {
      (shift ? pan : step)(shift ? -STEP : -1);
    },
    ArrowRight: shift => {
      (shift ? pan : step)(shift ? STEP : 1);
    },
    '+': () => {
      zoomBy(true);
    },
    '=': () => {
      zoomBy(true);
    },
    '-': () => {
      zoomBy(false);
    },
    '0': () => {
      moves.show(chart.whole());
    }
  };
  return all(
    listen<KeyboardEvent>(host, 'keydown', event => {
      const act = keys[event.key];
      if (act && !event.ctrlKey && !event.metaKey && !event.altKey) {
        event.preventDefault();
        event.stopPropagation();
        act(event.shiftKey);
      }
    }),
    listen<WheelEvent>(
      host,
      'wheel',
      event => {
        if (isOver(chart, event)) {
          event.preventDefault();
          zoomBy(event.deltaY < 0, chart.toValue(event.clientX));
        }
      },
      { passive: false }
    ),
    dragged(host, chart, moves.show)
  );
}

/** Shift and drag move the range. */
function dragged(host: HTMLElement, chart: Chart, show: (range: Range) => void): Dispose {
  let start: { x: number; range: Range; width: number } | undefined;
  return all(
    listen<PointerEvent>(host, 'pointerdown', event => {
      if (event.shiftKey && event.button === 0 && isOver(chart, event)) {
        start = { x: event.clientX, range: chart.shown(), width: chart.over.clientWidth };
        host.setPointerCapture(event.pointerId);
      }
    }),
    listen<PointerEvent>(host, 'pointermove', event => {
      if (start) {
        show(panned(start.range, chart.whole(), (start.x - event.clientX) / start.width));
      }
    }),
    ...['pointerup', 'pointercancel'].map(type =>
      listen<PointerEvent>(host, type, () => {
        start = undefined;
      })
    )
  );
}

function isOver(chart: Chart, event: MouseEvent): boolean {
  const box = chart.over.getBoundingClientRect();
  return (
    event.clientX >= box.left &&
    event.clientX <= box.right &&
    event.clientY >= box.top &&
    event.clientY <= box.bottom
  );
}
