/** What becomes of a figure while one thing is turned: curves with intervals, the limit, the crossings. */

import type { Control } from '../model/controls.js';
import { sweepable } from '../model/controls.js';
import { between, type Asked, type Sweep } from '../model/sweep.js';
import { readings } from '../model/reading.js';
import { crossed } from './crossed.js';
import { element } from './element.js';
import { dot } from './dot.js';
import type { Drawn } from './layout.js';
import { all, listen, type Dispose } from './listening.js';
import { HINT, movable } from './moving.js';
import { named } from './names.js';
import { plotIn } from './plot.js';

export interface Sweeping {
  /** What may be chosen. */
  offer: (criteria: readonly string[], controls: readonly Control[]) => void;
  /** What is asked for now. */
  choose: (asked: Asked) => void;
  /** What is chosen in the fields. */
  chosen: () => Asked | undefined;
  set: (sweep: Sweep) => void;
  hide: (sources: ReadonlySet<string>) => void;
  /** A control stands elsewhere. */
  moved: () => void;
  /** Whether what is shown is of an earlier turn. */
  busy: (on: boolean) => void;
  enable: (on: boolean) => void;
  repaint: () => void;
  dispose: Dispose;
}

const FOLLOWING = 'Following it from end to end…';
const NOTHING = 'Nothing was followed before the kernel went: run the cell again.';
const SIDES = [64, 16] as const; // px

/**
 * Fields, chart and words in an element; `standsAt` tells where a control stands now, and `asked` hears what
 * somebody chooses.
 */
export function sweepingIn(
  host: HTMLElement,
  placeOf: (source: string) => number,
  standsAt: (what: Asked, source: string) => number | null,
  asked: (what: Asked, moved: number) => void
): Sweeping {
  let sweep: Sweep | undefined;
  let lines: Drawn[] = [];
  let hidden: ReadonlySet<string> = new Set();
  let [isOn, isBusy] = [true, false];
  let parts: Record<string, string[] | undefined> = {};
  const [criterion, control, of] = ['criterion', 'control', 'part'].map(name =>
    element('select', { 'aria-label': name })
  ) as [HTMLSelectElement, HTMLSelectElement, HTMLSelectElement];
  const fields = element('div', { class: 'sbl-fields' }, 'what becomes of', criterion, 'over', control, of);
  const field = element('div', { class: 'sbl-plot' });
  const area = element(
    'div',
    { class: 'sbl-swept sbl-nothing', role: 'application', tabindex: '0', 'aria-label': 'nothing yet' },
    field
  );
  const up = element('b', {});
  const legend = element('div', { class: 'sbl-legend' });
  const here = element(
    'span',
    { class: 'sbl-name', hidden: '' },
    element('span', { class: 'sbl-here' }),
    'as it stands'
  );
  const status = element('p', { class: 'sbl-status', role: 'status' }, HINT);
  const words = element('ul', { class: 'sbl-crossings', 'aria-label': 'Crossings of the limit' });
  const limit = element('div', { class: 'sbl-limit' }, element('span', {}));
  const crossings = element('div', {});
  const present = element('div', {});
  host.append(fields, legend, area, status, words);

  const isHidden = (line: Drawn) => hidden.has(line.name);
  const place = () => {
    const { clientHeight: height } = plot.over;
    const at = sweep?.limit ?? null;
    const level = at === null ? -1 : plot.toHeight(at);
    limit.hidden = level < 0 || level > height;
    limit.style.top = `${String(level)}px`;
    limit.classList.toggle('sbl-below', level < 18);
    const seen = (sweep?.crossings ?? []).filter(one => !hidden.has(one.source));
    crossings.replaceChildren(...(at === null ? [] : crossed(plot, seen, level)));
  };
  const mark = () => {
    const { clientWidth: width, clientHeight: height } = plot.over;
    const places = lines.flatMap(line => {
      const at = sweep && !isHidden(line) ? standsAt(sweep, line.name) : null;
      const [x, y] = at === null ? [NaN, NaN] : [plot.toPixel(at), plot.toHeight(between(line.curve, at))];
      return x >= 0 && x <= width && y >= 0 && y <= height ? [{ x, y, place: line.place }] : [];
    });
    present.replaceChildren(...places.map(one => dot(host, one)));
    here.hidden = places.length === 0;
  };
  const read = (at: number | null) => {
    const curves = lines.filter(line => !isHidden(line)).map(line => line.curve);
    const told = sweep?.across.replace(/ \[.*$/, '') ?? '';
    status.textContent =
      at === null ? HINT : readings(at, [{ caption: '', curves }], curves[0]?.axis.units, told);
  };
  const plot = plotIn(field, {
    drawn: () => {
      place();
      mark();
    },
    chosen: range => {
      plot.show(range);
    },
    pointed: read
  });
  plot.over.append(limit, crossings, present);

  const draw = () => {
    const { across = '', limit: reach } = sweep ?? {};
    plot.draw(lines, { across, logarithmic: false, sides: SIDES, reach: reach ?? 0 });
  };
  const list = () => {
    up.textContent = sweep?.up ?? '';
    legend.replaceChildren(up, ...lines.map(line => named(host, line.name, line.place)), here);
    const told = `${sweep?.up ?? ''} over ${sweep?.across ?? ''}; ${sweep?.limitText ?? ''}`;
    area.setAttribute('aria-label', told);
  };
  const set = (given: Sweep) => {
    sweep = given;
    area.classList.remove('sbl-nothing');
    lines = given.curves.map(curve => {
      const { label, low, high } = curve;
      const interval = low && high ? { low, high } : {};
      return {
        curve,
        name: label,
        full: label,
        place: placeOf(label),
        width: 1.8,
        second: false,
        ...interval
      };
    });
    limit.firstElementChild?.replaceChildren(given.limitText);
    draw();
    list();
    words.replaceChildren(
      ...given.crossings.map(one => element('li', {}, one.text)),
      ...given.notes.map(note => element('li', { class: 'sbl-note' }, note))
    );
  };
  /** In the place of crossings, as long as there is no sweep. */
  const say = () => {
    if (!sweep) {
      const told = isOn ? (isBusy ? FOLLOWING : '') : NOTHING;
      words.replaceChildren(...(told === '' ? [] : [element('li', { class: 'sbl-note' }, told)]));
    }
  };
  const chosen = (): Asked | undefined =>
    criterion.value === '' || control.value === ''
      ? undefined
      : { criterion: criterion.value, control: control.value, of: of.value };
  const offerParts = () => {
    const names = parts[control.value] ?? [];
    fill(of, names);
    of.hidden = names.length < 2;
  };
  const ask = (event: Event) => {
    const what = chosen();
    if (what) {
      asked(what, event.timeStamp);
    }
  };
  return {
    offer: (criteria, controls) => {
      const kinds = sweepable(controls);
      parts = Object.fromEntries(kinds.map(one => [one.control, one.parts]));
      fill(criterion, criteria);
      fill(
        control,
        kinds.map(one => one.control)
      );
      offerParts();
    },
    choose: what => {
      choose(criterion, what.criterion);
      choose(control, what.control);
      offerParts();
      choose(of, what.of);
    },
    chosen,
    set,
    hide: sources => {
      hidden = sources;
      plot.hide(isHidden);
    },
    moved: mark,
    busy: on => {
      isBusy = on;
      for (const one of [field, words]) {
        one.classList.toggle('sbl-dimmed', on);
      }
      say();
    },
    enable: on => {
      isOn = on;
      say();
      criterion.disabled = control.disabled = of.disabled = !on;
    },
    repaint: () => {
      draw();
      list();
    },
    dispose: all(
      listen(control, 'change', offerParts),
      ...[criterion, control, of].map(field => listen(field, 'change', ask)),
      movable(area, plot, () => lines[0]?.curve.x ?? new Float64Array(), {
        show: range => {
          plot.show(range);
        },
        point: at => {
          plot.point(at);
          read(at);
        }
      }),
      plot.dispose
    )
  };
}

/** Options of a field; what was chosen stays if it can. */
function fill(field: HTMLSelectElement, names: readonly string[]): void {
  const before = field.value;
  field.replaceChildren(...names.map(name => element('option', { value: name }, name)));
  choose(field, before);
}

function choose(field: HTMLSelectElement, name: string): void {
  if ([...field.options].some(option => option.value === name)) {
    field.value = name;
  }
}
