/** Everything that can be turned: what is common in one line, then a row for each source. */

import { OF_SOURCES, type Control, type Kind } from '../model/controls.js';
import { element } from './element.js';
import { knobOf, type Knob } from './knob.js';
import { all, listen, type Dispose } from './listening.js';
import { named } from './names.js';

export interface Source {
  name: string;
  /** In the palette. */
  place: number;
  told: string;
}

export interface Hands {
  turned: (control: Control, value: number, moved: number) => void;
  /** All is set as on the bench. */
  reset: (moved: number) => void;
  /** Which sources are shown. */
  showing: (names: string[]) => void;
}

export interface Desk {
  /** What there is to be turned, and for whom. */
  build: (controls: readonly Control[], sources: readonly Source[]) => void;
  values: (of: (control: Control) => number | null) => void;
  shown: (names: readonly string[]) => void;
  enable: (on: boolean) => void;
  repaint: () => void;
  dispose: Dispose;
}

/** The desk in an element. */
export function deskIn(host: HTMLElement, hands: Hands): Desk {
  let knobs: { control: Control; knob: Knob }[] = [];
  let ticks: { source: Source; tick: HTMLInputElement; name: HTMLElement }[] = [];
  let stop: Dispose = () => undefined;
  const back = element('button', { type: 'button' }, 'As on the bench');
  const line = element('div', { class: 'sbl-common', role: 'group', 'aria-label': 'Parts and exposure' });
  const head = element('tr', {});
  const body = element('tbody', {});
  const caption = element('caption', { class: 'sbl-unseen' }, 'What can be turned of each source');
  const table = element('table', { class: 'sbl-sources' }, caption, element('thead', {}, head), body);
  host.replaceChildren(line, table);
  const pressed = listen(back, 'click', event => {
    hands.reset(event.timeStamp);
  });

  const make = (control: Control) => {
    const knob = knobOf(control, (value, moved) => {
      hands.turned(control, value, moved);
    });
    knobs.push({ control, knob });
    return knob.node;
  };
  const row = (source: Source, kinds: readonly Kind[], controls: readonly Control[]) => {
    const tick = element('input', { type: 'checkbox', 'aria-label': `show ${source.name}` });
    const name = named(host, source.name, source.place);
    ticks.push({ source, tick, name });
    const label = element('label', { title: source.told }, tick, name);
    const cells = kinds.map(kind => {
      const control = controls.find(one => one.control === kind && one.of === source.name);
      return element('td', {}, control ? make(control) : element('span', { class: 'sbl-none' }, '–'));
    });
    return element('tr', {}, element('th', { scope: 'row' }, label), ...cells);
  };
  const build = (controls: readonly Control[], sources: readonly Source[]) => {
    stop();
    [knobs, ticks] = [[], []];
    const kinds = OF_SOURCES.filter(kind => controls.some(one => one.control === kind));
    const common = controls.filter(one => one.control === 'thickness' || one.control === 'time');
    const columns = kinds.map(kind => {
      const units = controls.find(one => one.control === kind)?.units ?? '';
      return element('th', { scope: 'col' }, units === '' ? kind : `${kind} [${units}]`);
    });
    line.replaceChildren(
      ...common.map(control => {
        const unit = control.units === '' || control.fixed !== '' ? '' : ` [${control.units}]`;
        const label = element('span', { class: 'sbl-label' }, control.label + unit);
        return element('span', { class: 'sbl-one' }, label, make(control));
      }),
      back
    );
    head.replaceChildren(element('th', { scope: 'col' }, 'source'), ...columns);
    body.replaceChildren(...sources.map(source => row(source, kinds, controls)));
    const heard = ticks.map(({ tick }) =>
      listen(tick, 'change', () => {
        hands.showing(ticks.filter(one => one.tick.checked).map(one => one.source.name));
      })
    );
    stop = all(...heard, ...knobs.map(({ knob }) => knob.dispose));
  };
  return {
    build,
    values: of => {
      for (const { control, knob } of knobs) {
        knob.set(of(control));
      }
    },
    shown: names => {
      for (const { source, tick } of ticks) {
        tick.checked = names.includes(source.name);
      }
    },
    enable: on => {
      back.disabled = !on;
      for (const { knob } of knobs) {
        knob.enable(on);
      }
    },
    repaint: () => {
      for (const one of ticks) {
        const fresh = named(host, one.source.name, one.source.place);
        one.name.replaceWith(fresh);
        one.name = fresh;
      }
    },
    dispose: all(pressed, () => {
      stop();
    })
  };
}
