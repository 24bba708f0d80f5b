/** What parts pass over the wavelength: lines with intervals, and gaps where nothing is known. */

import type { Passed, PassedCurve } from '../model/passed.js';
import { readings } from '../model/reading.js';
import type { Range } from '../model/scales.js';
import { axisLabel, position } from '../model/text.js';
import { element } from './element.js';
import type { Drawn } from './layout.js';
import { all, listen, type Dispose } from './listening.js';
import { marksIn } from './marks.js';
import { HINT, movable } from './moving.js';
import { named } from './names.js';
import { plotIn } from './plot.js';

export interface PassedView {
  set: (passed: Passed) => void;
  repaint: () => void;
  dispose: Dispose;
}

const SIDES = [58, 16] as const; // px
const WHOLE: Range = [0, 105]; // %
const WIDTHS = { measured: 1, dry: 1.4, bonded: 2.2 };
const NARROW = 64; // px, from where on a gap has room for words

/** A tick for each curve, and the chart. */
export function passedIn(host: HTMLElement): PassedView {
  let passed: Passed | undefined;
  let lines: Drawn[] = [];
  let stop: Dispose = () => undefined;
  const hidden = new Set<string>();
  const ticks = element('div', { class: 'sbl-legend', role: 'group', 'aria-label': 'Curves' });
  const field = element('div', { class: 'sbl-plot' });
  const area = element('div', { class: 'sbt-passed', role: 'application', tabindex: '0' }, field);
  const status = element('p', { class: 'sbl-status', role: 'status' }, HINT);
  const gaps = element('div', {});
  host.append(ticks, area, status);

  const visible = () => lines.filter(line => !hidden.has(line.name));
  const place = () => {
    marks.place();
    const width = plot.over.clientWidth;
    const found = (passed?.gaps ?? []).map(([low, high]) => [plot.toPixel(low), plot.toPixel(high)]);
    const seen = found.map(([left = 0, right = 0]) => [Math.max(left, 0), Math.min(right, width)] as const);
    gaps.replaceChildren(
      ...seen
        .filter(([left, right]) => right > left)
        .map(([left, right]) => {
          const words = right - left < NARROW ? '' : 'not known';
          const style = `left: ${String(left)}px; width: ${String(right - left)}px`;
          return element('div', { class: 'sbt-gap', style }, element('span', {}, words));
        })
    );
  };
  const show = (range: Range) => {
    plot.show(range);
    describe();
  };
  const read = (at: number | null) => {
    const curves = visible().map(line => line.curve);
    status.textContent = at === null ? HINT : readings(at, [{ caption: '', curves }]);
  };
  const plot = plotIn(field, { drawn: place, chosen: show, pointed: read });
  const marks = marksIn(plot, true);
  plot.over.append(gaps);

  const isHidden = (line: Drawn) => hidden.has(line.name);
  const lineOf = (curve: PassedCurve, i: number): Drawn => {
    const { label, low, high, role = 'dry' } = curve;
    const interval = low && high ? { low, high } : {};
    const base = { curve, name: label, full: label, second: false, ...interval };
    return { ...base, place: i, width: WIDTHS[role], inked: role === 'measured' };
  };
  const list = () => {
    stop();
    const boxes = lines.map(line => {
      const box = element('input', { type: 'checkbox', 'aria-label': `show ${line.name}` });
      box.checked = !hidden.has(line.name);
      const label = element('label', {}, box, named(host, line.name, line.place, line.inked));
      const heard = listen(box, 'change', () => {
        hidden[box.checked ? 'delete' : 'add'](line.name);
        plot.hide(isHidden);
      });
      return { label, heard };
    });
    stop = all(...boxes.map(box => box.heard));
    ticks.replaceChildren(...boxes.map(box => box.label));
  };
  const describe = () => {
    const [low, high] = plot.shown().map(end => position(end, 'nm'));
    const names = lines.map(line => line.name).join('; ');
    area.setAttribute('aria-label', `Transmittance in %, ${low ?? ''} to ${high ?? ''}: ${names}. ${HINT}`);
  };
  const draw = () => {
    plot.draw(lines, {
      across: axisLabel('wavelength', 'nm'),
      logarithmic: false,
      up: ['%', ''],
      sides: SIDES,
      fixed: WHOLE
    });
    describe();
  };
  return {
    set: given => {
      const before = lines.map(line => line.name).join();
      passed = given;
      lines = given.curves.map(lineOf);
      marks.set(given.band, given.dataSheet);
      draw();
      plot.hide(isHidden);
      if (before !== lines.map(line => line.name).join()) {
        list();
      }
    },
    repaint: () => {
      list();
      draw();
    },
    dispose: all(
      movable(area, plot, () => lines[0]?.curve.x ?? new Float64Array(), {
        show,
        point: at => {
          plot.point(at);
          read(at);
        }
      }),
      plot.dispose,
      () => {
        stop();
      }
    )
  };
}
