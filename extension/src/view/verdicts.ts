/** Sources in order, with figures, verdicts and, on demand, reasons. */

import {
  cellOf,
  columnOf,
  criteriaOf,
  markOf,
  type Cell,
  type Compared,
  type Comparison
} from '../model/comparison.js';
import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';
import { named } from './names.js';

export interface Verdicts {
  set: (comparison: Comparison | undefined) => void;
  /** Whether what is shown is of an earlier turn; and why, in words. */
  busy: (words: string) => void;
  /** There is other room than before. */
  resize: () => void;
  repaint: () => void;
  dispose: Dispose;
}

let made = 0;

/** What has columns of its own: figures and verdicts, figures alone, or nothing; the rest stands in lines beneath. */
type Room = 0 | 1 | 2;

const ROOMS: readonly Room[] = [2, 1, 0];

/** The comparison in an element. */
export function verdictsIn(host: HTMLElement, placeOf: (source: string) => number): Verdicts {
  let shown: Comparison | undefined;
  let room: Room = 2;
  let drawn = 0; // px wide
  let stop: Dispose = () => undefined;
  const open = new Set<string>();
  const id = `sbl-row-${String(++made)}`;
  const status = element('span', { class: 'sbl-busy', role: 'status' });
  const content = element('div', { class: 'sbl-content' });
  host.append(element('h3', {}, 'What to test first', status), content);

  const row = (
    source: Compared,
    i: number,
    criteria: string[],
    cells: Cell[],
    widths: Column[],
    names: string[]
  ) => {
    const isOpen = open.has(source.source);
    const more = element(
      'button',
      {
        ...{ type: 'button', class: 'sbl-more', 'aria-expanded': String(isOpen) },
        ...{ 'aria-label': `reasons: ${source.source}`, 'aria-controls': `${id}-${String(i)}` }
      },
      isOpen ? '▾' : '▸'
    );
    more.dataset.source = source.source;
    const name = named(host, source.source, placeOf(source.source));
    const first = element(
      'tr',
      {},
      element('td', { class: 'sbl-place' }, String(source.place)),
      element('th', { scope: 'row' }, more, name),
      ...(room > 0 ? cells.map((cell, k) => element('td', {}, ...figure(cell, widths[k]))) : []),
      ...(room > 1
        ? criteria.map(one => element('td', { class: 'sbl-verdict' }, ...verdict(source, one)))
        : [])
    );
    const columns = String(1 + (room > 0 ? cells.length : 0) + (room > 1 ? criteria.length : 0));
    const line = (entries: [string, HTMLElement[]][]) => {
      const chips = entries.map(([name, said]) => element('li', {}, element('span', {}, name), ' ', ...said));
      const list = element('td', { colspan: columns }, element('ul', { class: 'sbl-chips' }, ...chips));
      return element('tr', { class: 'sbl-second' }, element('td', {}), list);
    };
    const lines = [
      ...(room > 0 ? [] : [line(cells.map((cell, k) => [names[k] ?? '', figure(cell, undefined)]))]),
      ...(room > 1 ? [] : [line(criteria.map(one => [one, verdict(source, one)]))])
    ];
    const reasons = element('tr', { id: `${id}-${String(i)}`, class: 'sbl-reasons' }, element('td', {}));
    reasons.append(element('td', { colspan: columns }, why(source)));
    reasons.hidden = !isOpen;
    const heard = listen(more, 'click', () => {
      const now = reasons.hidden;
      reasons.hidden = !now;
      more.setAttribute('aria-expanded', String(now));
      more.textContent = now ? '▾' : '▸';
      open[now ? 'add' : 'delete'](source.source);
    });
    return { nodes: [first, ...lines, reasons], heard };
  };
  const draw = () => {
    for (room of ROOMS) {
      build();
      if (content.scrollWidth <= content.clientWidth) {
        return;
      }
    }
  };
  const build = () => {
    const focused = content.contains(document.activeElement)
      ? (document.activeElement as HTMLElement).dataset.source
      : undefined;
    const isUnfolded = content.querySelector('details')?.open ?? false;
    stop();
    stop = () => undefined;
    if (!shown) {
      content.replaceChildren();
      return;
    }
    const { sources, labels, long_names: longNames, shown_figures: figures } = shown;
    const criteria = criteriaOf(shown).judged;
    const cells = sources.map(source => figures.map(name => cellOf(source.figures[name])));
    const widths = figures.map((_, k) => columnOf(cells.flatMap(row => row.slice(k, k + 1))));
    const names = figures.map(name => labels[name] ?? name);
    const made = sources.map((source, i) => row(source, i, criteria, cells[i] ?? [], widths, names));
    const heads = figures.map((name, k) => {
      const units = widths[k]?.units ?? '';
      const words = `${names[k] ?? name}${units === '' ? '' : ` [${units}]`}`;
      return element('th', { scope: 'col', title: longNames[name] ?? '' }, words);
    });
    const judged = criteria.map(name => {
      const required = shown?.criteria[name]?.required ?? '';
      return element('th', { scope: 'col', class: 'sbl-verdict', title: required }, name);
    });
    const place = element('th', { scope: 'col' }, element('span', { class: 'sbl-unseen' }, 'place'));
    const source = element('th', { scope: 'col' }, 'source');
    const head = element('tr', {}, place, source, ...(room > 0 ? heads : []), ...(room > 1 ? judged : []));
    const table = element(
      'table',
      { class: 'sbl-compared' },
      element('caption', { class: 'sbl-unseen' }, 'Sources in order'),
      element('thead', {}, head),
      element('tbody', {}, ...made.flatMap(one => one.nodes))
    );
    const measured = shown.not_measured;
    content.replaceChildren(
      list('sbl-advice', 'Advice', shown.advice),
      table,
      list('sbl-cautions', 'Cautions', shown.cautions),
      ...(measured.length > 0
        ? [folded(`Not measured (${String(measured.length)})`, measured, isUnfolded)]
        : [])
    );
    stop = all(...made.map(one => one.heard));
    const button = [...content.querySelectorAll<HTMLElement>('.sbl-more')];
    button.find(one => focused !== undefined && one.dataset.source === focused)?.focus();
  };
  return {
    set: comparison => {
      shown = comparison;
      draw();
    },
    busy: words => {
      content.classList.toggle('sbl-dimmed', words !== '');
      if (status.textContent !== words) {
        status.textContent = words;
      }
    },
    resize: () => {
      if (host.clientWidth !== drawn) {
        drawn = host.clientWidth;
        draw();
      }
    },
    repaint: draw,
    dispose: () => {
      stop();
    }
  };
}

type Column = ReturnType<typeof columnOf>;

/** A figure whose decimals stand in line with those above it; its interval beneath. */
function figure(cell: Cell, column: Column | undefined): HTMLElement[] {
  const { words, whole, decimals, units, interval } = cell;
  const wide = (count = 0): Record<string, string> => (column ? { style: `width: ${String(count)}ch` } : {});
  const value =
    words === ''
      ? element(
          'span',
          { class: 'sbl-value', 'aria-hidden': 'true' },
          element('span', { class: 'sbl-whole', ...wide(column?.whole) }, whole),
          element('span', { class: 'sbl-decimals', ...wide(column?.decimals) }, decimals),
          column?.units === units ? '' : ` ${units}`
        )
      : element('span', { class: 'sbl-words' }, words);
  const heard = words === '' ? `${whole}${decimals} ${units}` : ''; // in one piece
  return [
    value,
    element('span', { class: 'sbl-unseen' }, heard),
    element('span', { class: 'sbl-interval' }, interval)
  ];
}

function verdict(source: Compared, criterion: string): HTMLElement[] {
  const word = source.criteria[criterion]?.verdict ?? '';
  const mark = element(
    'span',
    { class: 'sbl-mark', 'data-verdict': word, 'aria-hidden': 'true' },
    markOf(word)
  );
  return word === '' ? [] : [element('span', { class: 'sbl-judged' }, mark, element('span', {}, word))];
}

/** Reason and nearest change of every criterion. */
function why(source: Compared): HTMLElement {
  const entries = Object.entries(source.criteria).flatMap(([name, judged]) =>
    judged === undefined
      ? []
      : [
          element('dt', {}, name, ' ', ...verdict(source, name)),
          element(
            'dd',
            {},
            judged.reason,
            ...(judged.change === ''
              ? []
              : [element('span', { class: 'sbl-change' }, `Nearest change: ${judged.change}`)])
          )
        ]
  );
  return element('dl', {}, ...entries);
}

function list(of: string, name: string, sentences: readonly string[]): HTMLElement {
  return element('ul', { class: of, 'aria-label': name }, ...sentences.map(one => element('li', {}, one)));
}

function folded(title: string, sentences: readonly string[], isOpen: boolean): HTMLElement {
  const lines = element('ul', {}, ...sentences.map(one => element('li', {}, one)));
  return element('details', isOpen ? { open: '' } : {}, element('summary', {}, title), lines);
}
