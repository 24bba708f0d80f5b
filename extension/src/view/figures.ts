/** Figures of curves in a band, as the server gives them. */

import type { Figure } from '../model/payload.js';
import type { Range } from '../model/scales.js';
import { position, words } from '../model/text.js';
import type { View } from '../model/views.js';
import { element } from './element.js';
import { all, delayed, listen, type Dispose } from './listening.js';

/** By the name of a figure: what it is called, one for each curve, and one for their mean. */
export type Figures = Record<string, { label: string; curves: Figure[]; mean: Figure }>;

/** Something with curves that have figures. */
export interface Measured {
  name: string;
  view: View;
  ask: (low: number, high: number) => Promise<Figures>;
}

export interface Table {
  /** Ask for the figures in a band, once it rests. */
  ask: (limits: Range) => void;
  dispose: Dispose;
}

interface Column {
  heading: string;
  figures: Record<string, Figure>;
}

const BESIDE = 2; // curves that have room beside one another
const WAIT = 150; // ms that a band rests before the server is asked

/** A table of figures, with fields for the limits of the band. */
export function figuresIn(
  host: HTMLElement,
  measured: () => readonly Measured[],
  limited: (low: number, high: number) => void
): Table {
  const fields = ['from', 'to'].map(name =>
    element('input', { type: 'number', step: '0.5', 'aria-label': `Band ${name}, in nm` })
  );
  const result = element('div', { class: 'sb-figures', 'aria-live': 'polite' });
  const [from, to] = fields as [HTMLInputElement, HTMLInputElement];
  host.replaceChildren(
    element('h3', {}, 'In the band'),
    element('div', { class: 'sb-limits' }, from, '–', to, 'nm'),
    result
  );
  let asked = 0;
  const answer = async ([low, high]: Range) => {
    const number = ++asked;
    result.setAttribute('aria-busy', 'true');
    const found = await Promise.all(
      measured().map(async one => {
        try {
          return columns(one, await one.ask(low, high));
        } catch (error) {
          return `${one.name}: ${error instanceof Error ? error.message : String(error)}`;
        }
      })
    );
    if (number === asked) {
      result.setAttribute('aria-busy', 'false');
      result.replaceChildren(...shown(found, `${position(low, 'nm')} to ${position(high, 'nm')}`));
    }
  };
  const later = delayed(WAIT, (limits: Range) => void answer(limits));
  const typed = () => {
    if (from.value !== '' && to.value !== '') {
      limited(from.valueAsNumber, to.valueAsNumber);
    }
  };
  return {
    ask: limits => {
      fields.forEach((field, i) => {
        field.value = String(Number((limits[i] ?? 0).toFixed(2)));
      });
      later.call(limits);
    },
    dispose: all(later.stop, ...fields.map(field => listen(field, 'change', typed)), () => {
      asked++;
    })
  };
}

/** Of repeated scans first their mean, then each; of curves with names, each. */
function columns({ name, view, ask: _ }: Measured, figures: Figures): { first: Column[]; more: Column[] } {
  const each = view.curves.map((curve, i) => ({
    heading: words(curve.label),
    figures: Object.fromEntries(
      Object.values(figures).flatMap(({ label, curves }) => entry(label, curves[i]))
    )
  }));
  if (!view.repeated) {
    return { first: each.length === 1 ? each.map(one => ({ ...one, heading: name })) : each, more: [] };
  }
  const mean = Object.fromEntries(Object.values(figures).map(one => [one.label, one.mean]));
  const heading = `${name}, mean of ${String(each.length)}`;
  return { first: [{ heading, figures: mean }], more: each };
}

function entry(label: string, figure: Figure | undefined): [string, Figure][] {
  return figure ? [[label, figure]] : [];
}

function shown(found: (ReturnType<typeof columns> | string)[], caption: string): HTMLElement[] {
  const good = found.filter(one => typeof one !== 'string');
  const bad = found.filter(one => typeof one === 'string');
  const more = good.flatMap(one => one.more);
  return [
    ...bad.map(message => element('p', { class: 'sb-alert', role: 'alert' }, message)),
    ...(good.length > 0
      ? [
          matrix(
            good.flatMap(one => one.first),
            `Figures from ${caption}`
          )
        ]
      : []),
    ...(more.length > 0
      ? [
          element(
            'details',
            {},
            element('summary', {}, `Each of ${String(more.length)} curves`),
            matrix(more, `Each curve from ${caption}`)
          )
        ]
      : [])
  ];
}

/** Figures of two curves side by side, of more one below the other. */
function matrix(of: Column[], caption: string): HTMLElement {
  const names = [...new Set(of.flatMap(column => Object.keys(column.figures)))];
  const rows = (columns: Column[]) =>
    names.map(name => element('tr', {}, element('th', { scope: 'row' }, name), ...columns.map(cell(name))));
  if (of.length <= BESIDE) {
    const headings = of.map(one => element('th', { scope: 'col' }, one.heading));
    const head = element('thead', {}, element('tr', {}, element('td', {}), ...headings));
    return element('table', {}, element('caption', {}, caption), head, element('tbody', {}, ...rows(of)));
  }
  const groups = of.map(one => {
    const heading = element('th', { scope: 'rowgroup', colspan: '2', class: 'sb-heading' }, one.heading);
    return element('tbody', {}, element('tr', {}, heading), ...rows([one]));
  });
  return element('table', {}, element('caption', {}, caption), ...groups);
}

function cell(name: string): (of: Column) => HTMLElement {
  return ({ figures }) => {
    const figure = figures[name];
    const text = figure?.text ?? '';
    return element('td', {}, figure?.interval === undefined ? text : `${text} (${figure.interval})`);
  };
}
