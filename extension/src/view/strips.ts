/** The light's way in three strips on one wavelength axis: sent, passed, absorbed. */

import type { Range } from '../model/scales.js';
import { readings } from '../model/reading.js';
import { litRange, type Strip, type StripCurve } from '../model/strip.js';
import { axisLabel, position } from '../model/text.js';
import { element } from './element.js';
import type { Drawn } from './layout.js';
import { all, type Dispose } from './listening.js';
import { HINT, movable } from './moving.js';
import { named } from './names.js';
import { stripOf, type Kind, type StripView } from './strip.js';

export type StripName = 'sent' | 'passed' | 'absorbed';

export interface Strips {
  set: (name: StripName, strip: Strip) => void;
  /** Sources that are not shown. */
  hide: (sources: ReadonlySet<string>) => void;
  repaint: () => void;
  dispose: Dispose;
}

const [THIN, THICK] = [1.3, 1.8]; // px
const PASSED: Range = [0, 105]; // %

/** Three strips in an element; sources have their places in the palette. */
export function stripsIn(host: HTMLElement, placeOf: (source: string) => number): Strips {
  let hidden: ReadonlySet<string> = new Set();
  let shown: Range | undefined;
  const base = (curve: StripCurve, place: number) => {
    return { curve, name: curve.label, full: curve.label, place, width: THICK, second: false };
  };
  const unitsOf = (strip: Strip, role?: StripCurve['role']) =>
    (strip.curves.find(curve => role === undefined || curve.role === role)?.units ?? '').replaceAll(
      ' ',
      '\u00a0'
    );
  const isAbsorbing = (curve: StripCurve) => curve.role === 'initiator';
  const kinds: Record<StripName, Kind> = {
    sent: {
      caption: 'sent',
      told: strip => `to the part, ${unitsOf(strip)}`,
      across: '',
      up: strip => [unitsOf(strip), ''],
      turns: true,
      lines: ({ curves }) => curves.map(curve => base(curve, placeOf(curve.label)))
    },
    passed: {
      caption: 'passed',
      told: strip => `by each layer, ${unitsOf(strip)}`,
      across: '',
      up: strip => [unitsOf(strip), ''],
      fixed: PASSED,
      turns: false,
      lines: ({ curves }) => {
        const several = curves.some(curve => curve.role === 'all');
        return curves.map((curve, i): Drawn => {
          const isAll = curve.role === 'all';
          const place = isAll ? 0 : i + Number(several);
          return { ...base(curve, place), inked: true, width: isAll ? THICK : THIN };
        });
      }
    },
    absorbed: {
      caption: 'absorbed',
      told: strip =>
        `filled: by source, ${unitsOf(strip, 'source')}` +
        (strip.curves.some(isAbsorbing) ? `; lines: by initiator, ${unitsOf(strip, 'initiator')}` : ''),
      across: axisLabel('wavelength', 'nm'),
      up: strip => [unitsOf(strip, 'source'), unitsOf(strip, 'initiator')],
      turns: true,
      lines: ({ curves }) => {
        const initiators = curves.filter(isAbsorbing);
        const sources = curves.filter(curve => !isAbsorbing(curve));
        return [
          ...sources.map(curve => ({ ...base(curve, placeOf(curve.label)), filled: true })),
          ...initiators.map((curve, i) => {
            return { ...base(curve, i + 1), inked: true, second: true, width: THIN };
          })
        ];
      }
    }
  };
  const isHidden = (line: Drawn) => !line.inked && hidden.has(line.name);
  const status = element('p', { class: 'sbl-status', role: 'status' }, HINT);
  const figures = element('ul', { class: 'sbl-figures', 'aria-label': 'Absorbed of each source' });
  const views = {} as Record<StripName, StripView>;
  const each = () => Object.values(views);
  const show = (range: Range) => {
    shown = range;
    for (const { plot } of each()) {
      plot.show(range);
    }
    describe();
  };
  const read = (at: number | null) => {
    const strips = (Object.entries(views) as [StripName, StripView][]).map(([caption, view]) => ({
      caption,
      curves: view.visible().map(line => line.curve)
    }));
    status.textContent = at === null ? HINT : readings(at, strips);
  };
  const point = (at: number | null, from?: StripView) => {
    for (const view of each()) {
      if (view !== from) {
        view.plot.point(at);
      }
    }
    read(at);
  };
  for (const name of Object.keys(kinds) as StripName[]) {
    const view = stripOf(kinds[name], name === 'sent', show, at => {
      point(at, views[name]);
    });
    views[name] = view;
  }
  const { sent, passed, absorbed } = views;
  const group = element('div', { class: 'sbl-strips', role: 'application', tabindex: '0' });
  group.append(sent.node, passed.node, absorbed.node);
  const note = element('p', { class: 'sbl-note' });
  host.append(group, status, figures, note);
  const describe = () => {
    const [low, high] = (shown ?? sent.plot.whole()).map(end => position(end, 'nm'));
    const names = sent.visible().map(line => line.name);
    group.setAttribute(
      'aria-label',
      `Light's way from ${low ?? ''} to ${high ?? ''}: sent, passed and absorbed; ${names.join(', ')}`
    );
  };
  const list = () => {
    const told = absorbed.strip()?.figures ?? {};
    note.textContent = absorbed.strip()?.note ?? '';
    const lines = Object.entries(told).filter(([source]) => !hidden.has(source));
    figures.replaceChildren(
      ...lines.map(([source, text]) =>
        element('li', {}, named(host, source, placeOf(source)), element('span', {}, text))
      )
    );
  };
  const moves = { show, point };
  const places = () => sent.visible()[0]?.curve.x ?? new Float64Array();
  return {
    set: (name, strip) => {
      views[name].set(strip);
      if (name === 'sent') {
        shown ??= litRange(strip);
        describe();
      }
      const { plot } = views[name];
      const now = plot.shown();
      if (shown && (now[0] !== shown[0] || now[1] !== shown[1])) {
        plot.show(shown);
      }
      if (name === 'absorbed') {
        list();
      }
    },
    hide: sources => {
      hidden = sources;
      for (const view of each()) {
        view.hide(isHidden);
      }
      list();
      describe();
    },
    repaint: () => {
      for (const view of each()) {
        view.repaint();
      }
      list();
    },
    dispose: all(
      movable(group, sent.plot, places, moves),
      movable(passed.field, passed.plot, places, moves),
      movable(absorbed.field, absorbed.plot, places, moves),
      ...each().map(view => view.dispose)
    )
  };
}
