/** What parts pass in other thicknesses, in a notebook: what anywidget loads. */

import type { Control } from '../model/controls.js';
import { passedOf, quotedOf } from '../model/passed.js';
import { bytesOf } from '../model/strip.js';
import { element } from '../view/element.js';
import { knobOf, type Knob } from '../view/knob.js';
import { all, listen, type Dispose } from '../view/listening.js';
import { passedIn } from '../view/passed.js';
import { quotedIn } from '../view/quoted.js';
import { entryOf } from './shell.js';

interface Traits {
  thickness: Record<string, number>;
  wavelengths: number[];
  controls: Control[];
  curves: DataView | null;
  figures: Record<string, unknown>;
  state: string;
}

export default entryOf<Traits>('transmission', ({ get, turn }) => {
  let knobs: { control: Control; knob: Knob }[] = [];
  let stop: Dispose = () => undefined;
  let isOn = true;
  const title = element('h3', { class: 'sbt-title' });
  const line = element('div', { class: 'sbl-common', role: 'group', 'aria-label': 'Parts' });
  const back = element('button', { type: 'button' });
  const picture = element('div', { class: 'sbl-picture' });
  const below = element('div', {});
  const view = passedIn(picture);
  const quoted = quotedIn(below, wavelengths => {
    turn({ wavelengths });
  });
  const values = () => {
    const thickness = get('thickness');
    for (const { control, knob } of knobs) {
      knob.set(thickness[control.of] ?? control.bench);
    }
  };
  const enable = (on: boolean) => {
    isOn = on;
    back.disabled = !on;
    quoted.enable(on);
    knobs.forEach(({ knob }) => {
      knob.enable(on);
    });
  };
  const build = () => {
    stop();
    knobs = get('controls').map(control => {
      const knob = knobOf(control, (value, moved) => {
        if (get('thickness')[control.of] !== value) {
          turn({ thickness: { ...get('thickness'), [control.of]: value } }, moved);
        }
      });
      return { control, knob };
    });
    stop = all(...knobs.map(({ knob }) => knob.dispose));
    const labelled = knobs.map(({ control, knob }) => {
      const label = element('span', { class: 'sbl-label' }, `${control.label} [${control.units}]`);
      return element('span', { class: 'sbl-one' }, label, knob.node);
    });
    back.textContent = knobs.some(({ control }) => control.stood === 'measured')
      ? 'As measured'
      : 'As on the bench';
    line.replaceChildren(...labelled, back);
    values();
    enable(isOn);
  };
  const pressed = listen(back, 'click', () => {
    const bench = get('controls').flatMap(({ of, bench: value }) => (value === null ? [] : [[of, value]]));
    turn({ thickness: Object.fromEntries(bench) as Record<string, number> });
    values();
  });
  return {
    nodes: [title, line, picture, below],
    paint: {
      controls: build,
      thickness: values,
      curves: () => {
        const data = bytesOf(get('curves'));
        if (data) {
          view.set(passedOf(data));
        }
      },
      figures: () => {
        const found = quotedOf(get('figures'));
        if (found) {
          title.textContent = found.title;
          quoted.set(found);
        }
      }
    },
    pictures: ['curves'],
    refused: quoted.refused,
    enable,
    repaint: view.repaint,
    dispose: all(pressed, view.dispose, quoted.dispose, () => {
      stop();
    })
  };
});
