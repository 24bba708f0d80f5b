/** What is marked over a plot along the wavelength: the required band, the data sheet's wavelength. */

import type { Range } from '../model/scales.js';
import { element } from './element.js';
import type { Plot } from './plot.js';

export interface Marks {
  set: (band: Range | null, dataSheet: number | null) => void;
  /** Put everything where the plot now has it. */
  place: () => void;
}

/** Marks over a plot; in one of several they are named. */
export function marksIn(plot: Plot, isNamed: boolean): Marks {
  let limits: Range | null = null;
  let sheet: number | null = null;
  const band = element('div', { class: 'sbl-band' });
  const line = element('div', { class: 'sbl-sheet' });
  const words = [band, line].map(one => {
    const said = element('span', {});
    one.append(...(isNamed ? [said] : []));
    return said;
  });
  plot.over.append(band, line);
  const place = () => {
    const width = plot.over.clientWidth;
    band.hidden = limits === null;
    if (limits) {
      const [left = 0, right = 0] = limits.map(one => Math.min(Math.max(plot.toPixel(one), 0), width));
      band.style.left = `${String(left)}px`;
      band.style.width = `${String(right - left)}px`;
    }
    const at = sheet === null ? -1 : plot.toPixel(sheet);
    line.hidden = at < 0 || at > width;
    line.style.left = `${String(at)}px`;
    line.classList.toggle('sbl-leftwards', at > width - 110);
  };
  return {
    set: (required, dataSheet) => {
      [limits, sheet] = [required, dataSheet];
      const [named, told] = words;
      if (named && told) {
        named.textContent = required ? `required ${required.map(String).join('–')} nm` : '';
        told.textContent = dataSheet === null ? '' : `data sheet ${String(dataSheet)} nm`;
      }
      place();
    },
    place
  };
}
