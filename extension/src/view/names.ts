/** What a curve is called, beside a piece of its line. */

import { colourOf, dashOf } from '../model/palette.js';
import { element, isDark, sample } from './element.js';

const WIDTH = 1.8; // px

/** A name with its line, in the colours of the page around `host`; `inked` in the colour of its text. */
export function named(host: HTMLElement, name: string, place: number, inked = false): HTMLElement {
  const colour = inked ? 'currentColor' : colourOf(place, isDark(host));
  return element('span', { class: 'sbl-name' }, sample(colour, dashOf(place), WIDTH), name);
}
