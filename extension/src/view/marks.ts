/** What is marked over a plot along the wavelength: the required band, the data sheet's wavelength. */

import type { Range } from '../model/scales.js';
import { element } from './element.js';
import type { Plot } from './plot.js';

export interface Marks {
  set: (band: Range | null, dataSheet: number | null) => void;
  /** Put everything where the plot now has it. */
  place: () => void;
}

const BESIDE = 2; // px

/** Marks over a plot; in one of several they are named. */
export function marksIn(plot: Plot, isNamed: boolean): Marks {
  let limits: Range | null = null;
  let sheet: number | null = null;
  const band = element('div', { class: 'sbl-band' });
  const line = element('div', { class: 'sbl-sheet' });
  const [named, told] = [element('span', {}), element('span', {})];
  let wide: number[] = []; // px that the words take
  if (isNamed) {
    band.append(named);
    line.append(told);
  }
  plot.over.append(band, line);
  const measured = () => {
    if (isNamed && !wide.some(one => one > 0)) {
      band.hidden = line.hidden = named.hidden = false;
      wide = [named, told].map(one => one.offsetWidth);
    }
    return wide;
  };
  const place = () => {
    const width = plot.over.clientWidth;
    const [bandWords = 0, lineWords = 0] = measured();
    /** Words begin where they should, seen from what they belong to, as far as they stay inside. */
    const put = (said: HTMLElement, wanted: number, words: number, from: number) => {
      const left = Math.max(Math.min(wanted, width - words), 0);
      said.style.left = `${String(left - from)}px`;
    };
    band.hidden = limits === null;
    if (limits) {
      const [left = 0, right = 0] = limits.map(one => Math.min(Math.max(plot.toPixel(one), 0), width));
      band.style.left = `${String(left)}px`;
      band.style.width = `${String(right - left)}px`;
      named.hidden = right === left;
      put(named, (left + right - bandWords) / 2, bandWords, left);
    }
    const at = sheet === null ? -1 : plot.toPixel(sheet);
    line.hidden = at < 0 || at > width;
    line.style.left = `${String(at)}px`;
    const isLeft = at + BESIDE + lineWords > width;
    put(told, isLeft ? at - BESIDE - lineWords : at + BESIDE, lineWords, at);
  };
  return {
    set: (required, dataSheet) => {
      [limits, sheet] = [required, dataSheet];
      const words = required ? `required ${required.map(String).join('–')} nm` : '';
      const of = dataSheet === null ? '' : `data sheet ${String(dataSheet)} nm`;
      if (named.textContent !== words || told.textContent !== of) {
        [named.textContent, told.textContent] = [words, of];
        wide = [];
      }
      place();
    },
    place
  };
}
