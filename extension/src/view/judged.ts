/** A verdict: a mark and its word, never a colour alone. */

import { markOf } from '../model/scans.js';
import { element } from './element.js';

/** Mark and word side by side. */
export function judged(verdict: string, words = verdict): HTMLElement {
  const mark = element('span', {
    class: 'sbl-mark sbf-mark',
    'data-verdict': verdict,
    'aria-hidden': 'true'
  });
  mark.textContent = markOf(verdict);
  return element('span', { class: 'sbl-judged' }, mark, element('span', {}, words));
}
