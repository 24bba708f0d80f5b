/** Where everything in a viewer stands. */

import { element } from './element.js';

export interface Frame {
  bar: HTMLElement;
  notes: HTMLElement;
  notice: HTMLElement;
  names: HTMLElement;
  plot: HTMLElement;
  status: HTMLElement;
  figures: HTMLElement;
  known: HTMLElement;
  aside: HTMLElement;
}

/** Empty places, in the order in which they are read. */
export function frameIn(root: HTMLElement): Frame {
  const bar = element('div', { class: 'sb-bar', role: 'toolbar', 'aria-label': 'Chart' });
  const notice = element('p', { class: 'sb-alert', role: 'alert', hidden: '' });
  const notes = element('div', { class: 'sb-notes' });
  const names = element('div', { class: 'sb-legend', role: 'group', 'aria-label': 'Curves' });
  const plot = element('div', { class: 'sb-chart', role: 'application', tabindex: '0' });
  const status = element('p', { class: 'sb-status', role: 'status' });
  const figures = element('section', { 'aria-label': 'Figures in the band' });
  const known = element('section', { class: 'sb-known', 'aria-label': 'About the file' });
  const aside = element('aside', { class: 'sb-side' }, figures, known);
  const main = element('div', { class: 'sb-main' }, names, plot, status);
  root.replaceChildren(bar, notice, notes, element('div', { class: 'sb-body' }, main, aside));
  return { bar, notes, notice, names, plot, status, figures, known, aside };
}
