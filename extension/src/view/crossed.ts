/** Where curves cross the limit: a ring, a line down to the axis, and the place in words. */

import { rows, type Crossing } from '../model/sweep.js';
import { number } from '../model/text.js';
import { element } from './element.js';
import type { Plot } from './plot.js';

const LABEL = 40; // px that a number at the axis takes
const ROW = 15;
const ABOVE = 9; // px

/** What marks crossings of a limit that lies `level` pixels from the top. */
export function crossed(plot: Plot, crossings: readonly Crossing[], level: number): HTMLElement[] {
  const { clientWidth: width, clientHeight: height } = plot.over;
  const inside = crossings
    .map(one => ({ x: plot.toPixel(one.at), at: one.at }))
    .filter(({ x }) => x >= 0 && x <= width)
    .sort((a, b) => a.x - b.x);
  const row = rows(
    inside.map(({ x }) => x),
    LABEL
  );
  return inside.flatMap(({ x, at }, i) => {
    const left = `left: ${String(x)}px`;
    const text = number(Number(at.toPrecision(3)));
    const above = height - level < ROW + ABOVE ? height - level + ABOVE : 2; // not over its ring
    const foot = `bottom: ${String(above + ROW * (row[i] ?? 0))}px`;
    return [
      element('div', { class: 'sbl-ring', style: `${left}; top: ${String(level)}px` }),
      element('div', { class: 'sbl-drop', style: `${left}; top: ${String(level)}px` }),
      element('span', { class: 'sbl-at', style: `${left}; ${foot}` }, text)
    ];
  });
}
