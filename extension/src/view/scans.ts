/** The scans of a frame over each other, and below how far the odd ones lie from the mean. */

import { readings } from '../model/reading.js';
import type { Range } from '../model/scales.js';
import type { ScanCurve, Scans } from '../model/scans.js';
import { axisLabel, position } from '../model/text.js';
import { element } from './element.js';
import type { Drawn } from './layout.js';
import { all, listen, type Dispose } from './listening.js';
import { HINT, movable } from './moving.js';
import { named } from './names.js';
import { plotIn, type Plot } from './plot.js';

export interface ScansView {
  set: (scans: Scans) => void;
  apart: (scans: Scans) => void;
  /** Scans that stand out, with their places in the palette. */
  places: (of: ReadonlyMap<number, number>) => void;
  /** A scan that somebody looks at. */
  light: (number: number | undefined) => void;
  repaint: () => void;
  dispose: Dispose;
}

const SIDES = [64, 16] as const; // px
const [THIN, MEAN, ODD, LIT] = [0.7, 1.2, 1.9, 3]; // px
const READ = 4; // scans that a cursor reads

/** Two strips on one wavelength axis. */
export function scansIn(host: HTMLElement): ScansView {
  let scans: Scans | undefined;
  let apart: Scans | undefined;
  let places: ReadonlyMap<number, number> = new Map();
  let lit: number | undefined;
  let isFitted = false;
  const fit = element(
    'button',
    { type: 'button', 'aria-pressed': 'false', 'aria-label': 'fit to the scans' },
    'fit'
  );
  fit.title = 'as high as the scans, whether or not saturation is seen';
  const names = element('div', { class: 'sbl-legend' });
  const status = element('p', { class: 'sbl-status', role: 'status' }, HINT);
  const limit = element('div', { class: 'sbl-limit' }, element('span', {}));
  const stretches = element('div', {});
  const area = element('div', { class: 'sbl-strips', role: 'application', tabindex: '0' });
  const strip = (caption: string, told: string, of: string, ...more: HTMLElement[]) => {
    const field = element('div', { class: 'sbl-plot' });
    const title = element('span', { class: 'sbl-title' }, element('b', {}, caption), ...more);
    const head = element(
      'div',
      { class: 'sbl-caption' },
      title,
      element('span', { class: 'sbl-units' }, told)
    );
    area.append(element('div', { class: `sbl-strip ${of}` }, head, field));
    return field;
  };
  const upper = strip('scans', 'raw, over each other, in counts', 'sbf-scans', fit);
  const lower = strip('apart', 'odd scans from the mean, in counts; band: one scan’s scatter', 'sbf-apart');
  host.append(names, area, status);

  const place = () => {
    const { clientWidth: width, clientHeight: height } = first.over;
    const at = scans?.saturation ?? null;
    const level = at === null ? -1 : first.toHeight(at);
    limit.hidden = level < 0 || level > height;
    limit.style.top = `${String(level)}px`;
    limit.classList.toggle('sbl-below', level < 18);
    const found = (apart?.stretches ?? []).map(([low, high]) => [first.toPixel(low), first.toPixel(high)]);
    const seen = found.filter(([left = 0, right = 0]) => right >= 0 && left <= width);
    stretches.replaceChildren(
      ...seen.map(([left = 0, right = 0]) => {
        const wide = Math.max(right - left, 3);
        return element('div', {
          class: 'sbf-stretch',
          style: `left: ${String(left)}px; width: ${String(wide)}px`
        });
      })
    );
  };
  const show = (range: Range) => {
    plots().forEach(plot => {
      plot.show(range);
    });
    describe();
  };
  const point = (at: number | null, from?: Plot) => {
    plots()
      .filter(plot => plot !== from)
      .forEach(plot => {
        plot.point(at);
      });
    status.textContent = at === null ? HINT : readings(at, [{ caption: '', curves: read() }]);
  };
  const first = plotIn(upper, {
    drawn: place,
    chosen: show,
    pointed: at => {
      point(at, first);
    }
  });
  const second = plotIn(lower, {
    drawn: () => undefined,
    chosen: show,
    pointed: at => {
      point(at, second);
    }
  });
  const plots = () => [first, second];
  first.over.append(stretches, limit);

  const isOut = ({ number = 0 }: ScanCurve) => places.has(number);
  const lineOf = (curve: ScanCurve): Drawn => {
    const { number = 0, low, high } = curve;
    const isLit = number > 0 && number === lit;
    const width = isLit ? LIT : curve.role === 'mean' ? MEAN : isOut(curve) ? ODD : THIN;
    const inked = curve.role === 'mean' || curve.role === 'scatter';
    const base = {
      curve,
      name: curve.label,
      full: curve.label,
      place: places.get(number) ?? 0,
      second: false
    };
    return { ...base, width, inked, ...(low && high ? { low, high } : {}) };
  };
  const mean = () => (apart?.curves ?? []).filter(curve => curve.role === 'mean');
  const single = () => scans?.curves ?? [];
  /** What a cursor reads: the mean, and the scans that stand out, or the first ones. */
  const read = () => {
    const out = single().filter(curve => isOut(curve) || curve.number === lit);
    return [...mean(), ...(out.length > 0 ? out : single()).slice(0, READ)];
  };
  const draw = () => {
    const ordered = [...single().filter(curve => !isOut(curve)), ...mean(), ...single().filter(isOut)].map(
      lineOf
    );
    const lines = [
      ...ordered.filter(line => line.width !== LIT),
      ...ordered.filter(line => line.width === LIT)
    ];
    const reach = isFitted ? {} : { reach: scans?.saturation ?? 0 };
    first.draw(lines, { across: '', logarithmic: false, sides: SIDES, ...reach });
    const rest = (apart?.curves ?? []).filter(curve => curve.role !== 'mean').map(lineOf);
    second.draw(rest, { across: axisLabel('wavelength', 'nm'), logarithmic: false, sides: SIDES });
    const out = single().filter(isOut);
    const others = single().length - out.length;
    names.replaceChildren(
      ...out.map(curve => named(host, curve.label, places.get(curve.number ?? 0) ?? 0)),
      ...(others > 0
        ? [named(host, out.length > 0 ? `${String(others)} other scans` : `${String(others)} scans`, 0)]
        : []),
      ...mean().map(curve => named(host, curve.label, 0, true))
    );
    describe();
  };
  const describe = () => {
    const [low, high] = first.shown().map(end => position(end, 'nm'));
    const saturated = apart?.saturated ?? '';
    const told = saturated === '' ? 'no pixel is saturated' : `saturated: ${saturated}`;
    area.setAttribute('aria-label', `Scans, ${low ?? ''} to ${high ?? ''}; ${told}. ${HINT}`);
  };
  return {
    set: given => {
      scans = given;
      limit.firstElementChild?.replaceChildren(given.saturationText);
      draw();
    },
    apart: given => {
      apart = given;
      draw();
    },
    places: of => {
      places = of;
      draw();
    },
    light: number => {
      if (number !== lit) {
        lit = number;
        draw();
      }
    },
    repaint: draw,
    dispose: all(
      listen(fit, 'click', () => {
        isFitted = !isFitted;
        fit.setAttribute('aria-pressed', String(isFitted));
        draw();
      }),
      movable(area, first, () => single()[0]?.x ?? new Float64Array(), { show, point }),
      first.dispose,
      second.dispose
    )
  };
}
