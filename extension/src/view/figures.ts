/** Figures of curves in a band, as the server gives them. */

import type { Figure } from '../model/payload.js';
import type { Range } from '../model/scales.js';
import { bandTyped } from '../model/typed.js';
import { position, words } from '../model/text.js';
import type { View } from '../model/views.js';
import { element } from './element.js';
import { all, delayed, type Dispose } from './listening.js';
import { fieldOf, type Field } from './typed.js';

/** By the name of a figure: what it is called, one for each curve, and one for their mean. */
export type Figures = Record<string, { label: string; curves: Figure[]; mean: Figure }>;

/** Figures, what is to be said of them, and of which version of a file they are. */
export interface Answer {
  sha256: string | null;
  figures: Figures;
  notes: string[];
}

/** Something with curves that have figures. */
export interface Measured {
  name: string;
  /** Of the version of the file that is shown. */
  sha256: string | null;
  view: View;
  ask: (low: number, high: number) => Promise<Answer>;
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
const STEP = 0.5; // nm, with an arrow key
const WAIT = 150; // ms that a band rests before the server is asked

/** What is measured, along which axis; and who hears of a band that was typed, or that a file is another one by now. */
export interface Asks {
  measured: () => readonly Measured[];
  whole: () => Range;
  limited: (limits: Range) => void;
  changed: () => void;
}

/** A table of figures, with fields for the limits of the band. */
export function figuresIn(host: HTMLElement, { measured, whole, limited, changed }: Asks): Table {
  const typed = () => {
    const { value, said } = bandTyped([from.box.value, to.box.value], whole());
    if (value) {
      limited(value);
    }
    from.say(said);
  };
  const [from, to] = (['from', 'to'] as const).map(name => {
    const field = fieldOf(`Band ${name}, in nm`, {}, typed, by => {
      const { box } = field;
      box.value = String(Number(box.value.replace(',', '.')) + by * STEP);
      typed();
    });
    return field;
  }) as [Field, Field];
  const result = element('div', { class: 'sb-figures', 'aria-live': 'polite' });
  host.replaceChildren(
    element('h3', {}, 'In the band'),
    element('div', { class: 'sb-limits' }, from.box, '–', to.box, 'nm', from.words),
    result
  );
  let asked = 0;
  const answer = async ([low, high]: Range) => {
    const number = ++asked;
    result.setAttribute('aria-busy', 'true');
    const found = await Promise.all(
      measured().map(async one => {
        try {
          const { sha256, figures, notes } = await one.ask(low, high);
          return { ...columns(one, figures), notes, isOther: sha256 !== one.sha256 };
        } catch (error) {
          return `${one.name}: ${error instanceof Error ? error.message : String(error)}`;
        }
      })
    );
    const isOther = found.some(one => typeof one !== 'string' && one.isOther);
    if (number === asked && isOther) {
      result.replaceChildren(element('p', { class: 'sb-alert' }, 'The file has changed: it is read again.'));
      changed();
    } else if (number === asked) {
      result.setAttribute('aria-busy', 'false');
      result.replaceChildren(...shown(found, `${position(low, 'nm')} to ${position(high, 'nm')}`));
    }
  };
  const later = delayed(WAIT, (limits: Range) => void answer(limits));
  return {
    ask: limits => {
      from.say('');
      [from, to].forEach((field, i) => {
        field.show(Number((limits[i] ?? 0).toFixed(2)));
      });
      later.call(limits);
    },
    dispose: all(later.stop, from.dispose, to.dispose, () => {
      asked++;
    })
  };
}

/** Of repeated scans first their mean, then each; of curves with names, each. */
function columns({ name, view }: Measured, figures: Figures): { first: Column[]; more: Column[] } {
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

function shown(
  found: ((ReturnType<typeof columns> & { notes: string[] }) | string)[],
  caption: string
): HTMLElement[] {
  const good = found.filter(one => typeof one !== 'string');
  const bad = found.filter(one => typeof one === 'string');
  const more = good.flatMap(one => one.more);
  const notes = [...new Set(good.flatMap(one => one.notes))].map(note => element('li', {}, note));
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
    ...(notes.length > 0
      ? [element('ul', { class: 'sb-noted', 'aria-label': 'Of these figures' }, ...notes)]
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
