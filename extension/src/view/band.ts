/** A band on the axis, between two handles. */

import { narrowest as narrowestOf, type Range } from '../model/scales.js';
import { position } from '../model/text.js';
import type { Chart } from './chart.js';
import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';

export interface Band {
  /** None as long as it is the whole axis. */
  limits: () => Range | undefined;
  set: (low: number, high: number) => void;
  /** Put the handles where the chart now has them. */
  place: () => void;
  dispose: Dispose;
}

const [STEP, FAR] = [0.5, 5]; // nm, with an arrow key and with shift
const FINEST = 10; // positions of a pointer in one nm

/** A band in a chart along the wavelength. */
export function bandIn(chart: Chart, whole: Range, changed: (limits: Range) => void): Band {
  let limits = whole;
  const shade = element('div', { class: 'sb-band' });
  const handles = [handle('Lower limit of the band'), handle('Upper limit of the band')] as const;
  const narrowest = narrowestOf(whole);

  const isWhole = () => limits[0] <= whole[0] && limits[1] >= whole[1];
  const place = () => {
    const width = chart.over.clientWidth;
    const pixels = limits.map(limit => chart.toPixel(limit));
    const [left, right] = pixels.map(pixel => Math.min(Math.max(pixel, 0), width)) as [number, number];
    shade.hidden = isWhole(); // which needs no shade
    shade.style.left = `${String(left)}px`;
    shade.style.width = `${String(right - left)}px`;
    handles.forEach((one, i) => {
      const limit = limits[i] ?? 0;
      one.style.left = `${String(i === 0 ? left : right)}px`;
      one.classList.toggle('sb-outside', Math.abs((pixels[i] ?? 0) - (i === 0 ? left : right)) > 1);
      one.setAttribute('aria-valuemin', String(i === 0 ? whole[0] : limits[0]));
      one.setAttribute('aria-valuemax', String(i === 0 ? limits[1] : whole[1]));
      one.setAttribute('aria-valuenow', String(limit));
      one.setAttribute('aria-valuetext', position(limit, 'nm'));
    });
  };
  const set = (low: number, high: number) => {
    limits = [low, high];
    place();
    changed(limits);
  };
  const move = (which: number, to: number) => {
    if (which === 0) {
      set(Math.min(Math.max(to, whole[0]), limits[1] - narrowest), limits[1]);
    } else {
      set(limits[0], Math.max(Math.min(to, whole[1]), limits[0] + narrowest));
    }
  };
  const dispose = all(
    ...handles.map((one, which) =>
      hands(
        one,
        chart,
        by => (limits[which] ?? 0) + by,
        to => {
          move(which, to);
        }
      )
    )
  );
  chart.over.append(shade, ...handles);
  place();
  return {
    limits: () => (isWhole() ? undefined : limits),
    set: (low, high) => {
      const start = Math.min(Math.max(low, whole[0]), whole[1] - narrowest);
      set(start, Math.max(Math.min(high, whole[1]), start + narrowest));
    },
    place,
    dispose: () => {
      dispose();
      shade.remove();
      for (const one of handles) {
        one.remove();
      }
    }
  };
}

function handle(name: string): HTMLElement {
  return element('div', {
    class: 'sb-handle',
    role: 'slider',
    tabindex: '0',
    'aria-label': name,
    'aria-orientation': 'horizontal'
  });
}

/** Keys and pointer of one handle. */
function hands(
  one: HTMLElement,
  chart: Chart,
  from: (by: number) => number,
  move: (to: number) => void
): Dispose {
  let held = false;
  const stop = (event: Event) => {
    event.stopPropagation();
  };
  return all(
    listen<KeyboardEvent>(one, 'keydown', event => {
      const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
      const end = { Home: -Infinity, End: Infinity }[event.key];
      if (way !== undefined || end !== undefined) {
        event.preventDefault();
        event.stopPropagation();
        move(end ?? from((way ?? 0) * (event.shiftKey ? FAR : STEP)));
      }
    }),
    listen<PointerEvent>(one, 'pointerdown', event => {
      event.stopPropagation();
      one.focus();
      one.setPointerCapture(event.pointerId);
      held = true;
    }),
    listen<MouseEvent>(one, 'mousedown', stop),
    listen<MouseEvent>(one, 'dblclick', stop),
    listen<PointerEvent>(one, 'pointermove', event => {
      if (held) {
        move(Math.round(chart.toValue(event.clientX) * FINEST) / FINEST);
      }
    }),
    ...['pointerup', 'pointercancel'].map(type =>
      listen<PointerEvent>(one, type, () => {
        held = false;
      })
    )
  );
}
