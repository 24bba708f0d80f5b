/** One of the strips that lie over one another: a caption at the left, a plot, its marks. */

import type { Range } from '../model/scales.js';
import type { Strip } from '../model/strip.js';
import { element } from './element.js';
import type { Drawn } from './layout.js';
import { all, listen, type Dispose } from './listening.js';
import { marksIn } from './marks.js';
import { named } from './names.js';
import { plotIn, type Plot } from './plot.js';

export interface Kind {
  caption: string;
  /** What its heights are, beneath the caption. */
  told: (strip: Strip) => string;
  across: string;
  /** Units of its vertical axes. */
  up: (strip: Strip) => readonly [string, string];
  fixed?: Range;
  /** Whether its axis may be logarithmic. */
  turns: boolean;
  lines: (strip: Strip) => Drawn[];
}

export interface StripView {
  node: HTMLElement;
  field: HTMLElement;
  plot: Plot;
  strip: () => Strip | undefined;
  /** Lines that are shown now. */
  visible: () => Drawn[];
  set: (strip: Strip) => void;
  hide: (isHidden: (line: Drawn) => boolean) => void;
  repaint: () => void;
  dispose: Dispose;
}

const SIDES = [64, 48] as const; // px, for numbers and units at the left and right
const WORDS = 0.25; // of the curves' height, for what marks are called

/** A strip; `chosen` and `pointed` hear what a hand does in it. */
export function stripOf(
  kind: Kind,
  isFirst: boolean,
  chosen: (range: Range) => void,
  pointed: (at: number | null) => void
): StripView {
  let strip: Strip | undefined;
  let lines: Drawn[] = [];
  let isHidden = (_: Drawn) => false;
  let logarithmic = false;
  const units = element('span', { class: 'sbl-units' });
  const names = element('span', { class: 'sbl-names' });
  const name = `logarithmic axis: ${kind.caption}`;
  const button = element('button', { type: 'button', 'aria-pressed': 'false', 'aria-label': name }, 'log');
  const title = element('span', { class: 'sbl-title' }, element('b', {}, kind.caption));
  title.append(...(kind.turns ? [button] : []));
  const field = element('div', { class: 'sbl-plot' });
  const caption = element('div', { class: 'sbl-caption' }, title, units, names);
  const node = element('div', { class: `sbl-strip sbl-${kind.caption}` }, caption, field);
  const plot = plotIn(field, {
    drawn: () => {
      marks.place();
    },
    chosen,
    pointed
  });
  const marks = marksIn(plot, isFirst);
  const draw = () => {
    const { across, fixed } = kind;
    const up = strip ? kind.up(strip) : (['', ''] as const);
    const room = isFirst ? WORDS : 0;
    plot.draw(lines, { across, up, logarithmic, room, sides: SIDES, ...(fixed ? { fixed } : {}) });
  };
  const list = () => {
    units.textContent = strip ? kind.told(strip) : '';
    const listed = lines.filter(line => line.inked);
    names.replaceChildren(...listed.map(line => named(field, line.name, line.place, true)));
  };
  const dispose = all(
    listen(button, 'click', () => {
      logarithmic = !logarithmic;
      button.setAttribute('aria-pressed', String(logarithmic));
      draw();
    }),
    plot.dispose
  );
  return {
    node,
    field,
    plot,
    strip: () => strip,
    visible: () => lines.filter(line => !isHidden(line)),
    set: given => {
      const before = lines.map(line => line.name).join();
      strip = given;
      lines = kind.lines(given);
      marks.set(given.band, given.dataSheet);
      draw();
      if (before !== lines.map(line => line.name).join()) {
        list();
      }
    },
    hide: how => {
      isHidden = how;
      plot.hide(how);
    },
    repaint: plot.repaint,
    dispose
  };
}
