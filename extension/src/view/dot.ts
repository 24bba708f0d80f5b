/** A dot on a curve, where something stands now. */

import { colourOf } from '../model/palette.js';
import { element, isDark } from './element.js';

export interface Dot {
  /** From the left and from the top [px]. */
  x: number;
  y: number;
  /** Of its curve, in the palette. */
  place: number;
}

/** A dot in the colours of the page around `host`. */
export function dot(host: HTMLElement, { x, y, place }: Dot): HTMLElement {
  const colour = colourOf(place, isDark(host));
  const style = `left: ${String(x)}px; top: ${String(y)}px; background: ${colour}`;
  return element('div', { class: 'sbl-here', style });
}
