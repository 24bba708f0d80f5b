/** The light's way in a notebook: what anywidget loads. */

import { comparisonOf } from '../model/comparison.js';
import { isTurned, type Control, type Kind } from '../model/controls.js';
import { bytesOf, stripOf } from '../model/strip.js';
import { askedOf, sweepOf, type Asked } from '../model/sweep.js';
import { deskIn, type Source } from '../view/desk.js';
import { element } from '../view/element.js';
import { all, counted } from '../view/listening.js';
import { stripsIn, type StripName } from '../view/strips.js';
import { sweepingIn } from '../view/sweeping.js';
import { tabsIn } from '../view/tabs.js';
import { verdictsIn } from '../view/verdicts.js';
import { BUSY, entryOf } from './shell.js';

type Values = Record<Exclude<Kind, 'time'>, Record<string, number>> & { time: number };

interface Traits extends Values {
  shown: string[];
  sweep: Record<string, string>;
  controls: Control[];
  sources: Source[];
  sent: DataView | null;
  passed: DataView | null;
  absorbed: DataView | null;
  swept: DataView | null;
  comparison: Record<string, unknown>;
  state: string;
}

const [SPECTRA, SWEEP] = [0, 1];
const LOST = 'of an earlier turn: the kernel went before it had compared the last one';

export default entryOf<Traits>('light path', ({ get, turn, tell }) => {
  let isOn = true;
  const placeOf = (name: string) => get('sources').find(one => one.name === name)?.place ?? 0;
  const hidden = () => {
    const shown = get('shown');
    return new Set(get('sources').flatMap(({ name }) => (shown.includes(name) ? [] : [name])));
  };
  const valueOf = ({ control, of, bench }: Control) =>
    control === 'time' ? get('time') : (get(control)[of] ?? bench);
  /** What changes with one control, beside what changes with others. */
  const changed = ({ control, of }: Control, value: number, others: Partial<Values> = {}): Partial<Values> =>
    control === 'time'
      ? { ...others, time: value }
      : { ...others, [control]: { ...(others[control] ?? get(control)), [of]: value } };

  const places = element('div', { class: 'sbl-desk' });
  const picture = element('div', { class: 'sbl-picture' });
  const compared = element('section', { class: 'sbl-verdicts', 'aria-label': 'Comparison' });
  const desk = deskIn(places, {
    turned: (control, value, moved) => {
      if (valueOf(control) !== value) {
        turn(changed(control, value), moved);
      }
    },
    reset: moved => {
      let changes: Partial<Values> = {};
      for (const control of get('controls')) {
        const value = valueOf(control);
        if (control.fixed === '' && control.bench !== null && value !== null && isTurned(value, control)) {
          changes = changed(control, control.bench, changes);
        }
      }
      if (Object.keys(changes).length > 0) {
        turn(changes, moved);
      }
    },
    showing: names => {
      tell({ shown: names });
    }
  });
  const tabs = tabsIn(picture, ['Spectra', 'Sweep'], tab => {
    if (tab === SWEEP) {
      askFirst();
    } else if (askedOf(get('sweep'))) {
      tell({ sweep: {} });
    }
  });
  const [first = picture, second = picture] = [tabs.panels[SPECTRA], tabs.panels[SWEEP]];
  const strips = stripsIn(first, placeOf);
  /** Where the control of a sweep stands, for one source. */
  const standsAt = ({ control, of }: Asked, source: string) => {
    const name = control === 'thickness' ? of : source;
    const one = get('controls').find(found => found.control === control && found.of === name);
    return one ? valueOf(one) : null;
  };
  const sweeping = sweepingIn(second, placeOf, standsAt, (what, moved) => {
    turn({ sweep: { ...what } }, moved);
  });
  const verdicts = verdictsIn(compared, placeOf);
  const askFirst = () => {
    const what = sweeping.chosen();
    if (!second.hidden && what && !askedOf(get('sweep'))) {
      turn({ sweep: { ...what } });
    }
  };
  const offer = () => {
    sweeping.offer(comparisonOf(get('comparison'))?.followed ?? [], get('controls'));
  };
  const wait = () => {
    const isBusy = get('state') === BUSY;
    verdicts.busy(isBusy ? (isOn ? 'comparing…' : LOST) : '');
    sweeping.busy(isBusy);
  };
  const enable = (on: boolean) => {
    isOn = on;
    desk.enable(on);
    sweeping.enable(on);
    wait();
  };
  const values = () => {
    desk.values(valueOf);
    sweeping.moved();
  };
  const shown = () => {
    desk.shown(get('shown'));
    strips.hide(hidden());
    sweeping.hide(hidden());
  };
  const build = () => {
    desk.build(get('controls'), get('sources'));
    desk.enable(isOn);
    values();
    shown();
    offer();
  };
  const sweep = () => {
    const asked = askedOf(get('sweep'));
    if (asked) {
      sweeping.choose(asked);
      tabs.open(SWEEP);
    }
  };
  const strip = (name: StripName) => () => {
    const data = bytesOf(get(name));
    if (data) {
      strips.set(name, stripOf(data));
    }
  };
  const widths = new ResizeObserver(verdicts.resize);
  widths.observe(compared);
  return {
    nodes: [places, picture, compared],
    paint: {
      controls: build,
      sources: build,
      ...{ thickness: values, distance: values, hours: values, level: values, time: values },
      shown,
      sent: strip('sent'),
      passed: strip('passed'),
      absorbed: strip('absorbed'),
      swept: () => {
        const data = bytesOf(get('swept'));
        if (data) {
          sweeping.set(sweepOf(data));
          sweeping.hide(hidden());
        }
      },
      comparison: () => {
        verdicts.set(comparisonOf(get('comparison')));
        offer();
        sweep();
        askFirst();
      },
      sweep: () => {
        sweep();
        if (!askedOf(get('sweep'))) {
          tabs.open(SPECTRA);
        }
      },
      state: wait
    },
    pictures: ['sent', 'passed', 'absorbed', 'swept'],
    enable,
    repaint: () => {
      desk.repaint();
      strips.repaint();
      sweeping.repaint();
      verdicts.repaint();
    },
    dispose: all(
      counted(() => {
        widths.disconnect();
      }),
      desk.dispose,
      tabs.dispose,
      strips.dispose,
      sweeping.dispose,
      verdicts.dispose
    )
  };
});
