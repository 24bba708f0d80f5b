/** The widget as a whole: desk, tabs with strips and sweep, comparison, and what is said of the kernel. */

import { comparisonOf, criteriaOf } from '../model/comparison.js';
import { isTurned, type Control } from '../model/controls.js';
import { bytesOf, stripOf } from '../model/strip.js';
import { askedOf, sweepOf } from '../model/sweep.js';
import { coloursOf } from '../view/colours.js';
import { deskIn } from '../view/desk.js';
import { element } from '../view/element.js';
import { all, counted, listen, type Dispose } from '../view/listening.js';
import { stripsIn, type StripName } from '../view/strips.js';
import { sweepingIn } from '../view/sweeping.js';
import { tabsIn } from '../view/tabs.js';
import { verdictsIn } from '../view/verdicts.js';
import { exchangeOf } from './exchange.js';
import { changed, valueOf, type Model, type Trait, type Traits } from './model.js';

const MEASURED = 'spectralbench: from slider to picture';
const SILENT = 'Not connected: run the cell again';
const REFUSED = 'refused: ';
const STALE = 1000; // ms; a turn whose picture has not come by then changed none
const PICTURES: readonly Trait[] = ['sent', 'passed', 'absorbed', 'swept'];
const VALUES: readonly Trait[] = ['thickness', 'distance', 'hours', 'level', 'time'];
const ALL: readonly Trait[] = ['controls', 'shown', ...PICTURES, 'comparison', 'sweep', 'state'];

/** Everything in an element; what is returned takes it away. */
export function panelIn(model: Model, el: HTMLElement): Dispose {
  const notice = element('p', { class: 'sbl-alert', role: 'alert', hidden: '' });
  const lost = element('p', { class: 'sbl-lost', role: 'status' });
  const places = element('div', { class: 'sbl-desk' });
  const picture = element('div', { class: 'sbl-picture' });
  const compared = element('section', { class: 'sbl-verdicts', 'aria-label': 'Comparison' });
  const root = element('div', { class: 'sb-light-path', role: 'region', 'aria-label': 'Light path' });
  root.append(lost, notice, places, picture, compared);
  el.replaceChildren(root);

  const placeOf = (name: string) => model.get('sources').find(one => one.name === name)?.place ?? 0;
  const hidden = () => {
    const shown = model.get('shown');
    return new Set(model.get('sources').flatMap(({ name }) => (shown.includes(name) ? [] : [name])));
  };
  let since: number | undefined; // when a hand moved whose picture has not been painted
  const turn = (changes: Partial<Traits>, moved: number) => {
    since = since !== undefined && moved - since < STALE ? since : moved;
    exchange.turn(changes);
  };
  const desk = deskIn(places, {
    turned: (control, value, moved) => {
      if (valueOf(model, control) !== value) {
        const { control: kind, of } = control;
        turn(kind === 'time' ? { time: value } : { [kind]: changed(model, kind, of, value) }, moved);
      }
    },
    reset: moved => {
      const changes = asOnBench(model);
      if (Object.keys(changes).length > 0) {
        turn(changes, moved);
      }
    },
    showing: names => {
      exchange.tell({ shown: names });
    }
  });
  const tabs = tabsIn(picture, ['Spectra', 'Sweep'], tab => {
    if (tab === 1) {
      askFirst();
    } else if (askedOf(model.get('sweep'))) {
      exchange.tell({ sweep: {} });
    }
  });
  const [first = root, second = root] = tabs.panels;
  const strips = stripsIn(first, placeOf);
  const sweeping = sweepingIn(second, placeOf, (what, moved) => {
    turn({ sweep: { ...what } }, moved);
  });
  const verdicts = verdictsIn(compared, placeOf);
  let followed: readonly string[] | undefined; // criteria that Python can follow
  const askFirst = () => {
    const what = sweeping.chosen();
    if (!second.hidden && what && !askedOf(model.get('sweep'))) {
      turn({ sweep: { ...what } }, performance.now());
    }
  };
  const offer = () => {
    const comparison = comparisonOf(model.get('comparison'));
    const { judged, weighed } = comparison ? criteriaOf(comparison) : { judged: [], weighed: [] };
    const names = [...judged, ...weighed].filter(name => !followed || followed.includes(name));
    sweeping.offer(names, model.get('controls'));
  };

  /** What each trait changes in what is seen. */
  const paint: Partial<Record<Trait, () => void>> = {
    controls: () => {
      desk.build(model.get('controls'), model.get('sources'));
      desk.enable(isConnected);
      paint.thickness?.();
      paint.shown?.();
      offer();
    },
    thickness: () => {
      desk.values(control => valueOf(model, control));
    },
    shown: () => {
      desk.shown(model.get('shown'));
      strips.hide(hidden());
      sweeping.hide(hidden());
    },
    swept: () => {
      const data = bytesOf(model.get('swept'));
      if (data) {
        const sweep = sweepOf(data);
        followed = sweep.criteria.length > 0 ? sweep.criteria : followed;
        sweeping.set(sweep);
        offer();
        sweeping.hide(hidden());
      }
    },
    comparison: () => {
      verdicts.set(comparisonOf(model.get('comparison')));
      offer();
      paint.sweep?.();
      askFirst();
    },
    sweep: () => {
      const asked = askedOf(model.get('sweep'));
      if (asked) {
        sweeping.choose(asked);
        tabs.open(1);
      }
    },
    state: () => {
      const state = model.get('state');
      verdicts.busy(state === 'comparing');
      say(state.startsWith(REFUSED) ? state.slice(REFUSED.length) : '');
    }
  };
  for (const name of ['sent', 'passed', 'absorbed'] as StripName[]) {
    paint[name] = () => {
      const data = bytesOf(model.get(name));
      if (data) {
        strips.set(name, stripOf(data));
      }
    };
  }
  paint.sources = paint.controls;
  for (const name of VALUES) {
    paint[name] = paint.thickness;
  }
  const say = (words: string) => {
    notice.hidden = words === '';
    notice.textContent = words;
  };

  const due = new Set<Trait>();
  let frame = 0;
  let ending = 0;
  let isBroken = false; // what came last could not be drawn
  const show = () => {
    frame = 0;
    const now = [...new Set([...due].map(trait => paint[trait]))];
    const isPicture = PICTURES.some(trait => due.has(trait));
    due.clear();
    try {
      now.forEach(one => one?.());
      if (isBroken) {
        isBroken = false;
        paint.state?.();
      }
    } catch (error) {
      isBroken = true;
      say(`This cannot be drawn: ${error instanceof Error ? error.message : String(error)}`);
    }
    if (isPicture && since !== undefined) {
      const start = since;
      since = undefined;
      ending = window.setTimeout(() => performance.measure(MEASURED, { start })); // once it is painted
    }
  };
  const later = (...traits: Trait[]) => {
    traits.forEach(trait => due.add(trait));
    frame ||= requestAnimationFrame(show);
  };
  let isConnected = true;
  const exchange = exchangeOf(model, el, {
    came: trait => {
      later(trait);
    },
    connected: on => {
      isConnected = on;
      lost.textContent = on ? '' : SILENT;
      root.classList.toggle('sbl-offline', !on);
      desk.enable(on);
      sweeping.enable(on);
    }
  });
  const widths = new ResizeObserver(() => {
    verdicts.resize();
  });
  widths.observe(root);
  later(...ALL);
  return all(
    exchange.dispose,
    counted(() => {
      widths.disconnect();
      cancelAnimationFrame(frame);
      window.clearTimeout(ending);
    }),
    coloursOf(root, () => {
      desk.repaint();
      strips.repaint();
      sweeping.repaint();
      verdicts.repaint();
    }),
    listen<KeyboardEvent>(root, 'keydown', event => {
      if (!event.ctrlKey && !event.metaKey && !event.altKey) {
        event.stopPropagation(); // a notebook has keys of its own
      }
    }),
    desk.dispose,
    tabs.dispose,
    strips.dispose,
    sweeping.dispose,
    verdicts.dispose,
    () => {
      root.remove();
    }
  );
}

/** What has to change so that everything is as on the bench. */
function asOnBench(model: Model): Partial<Traits> {
  const changes: Partial<Traits> = {};
  const turned = (control: Control) => {
    const value = valueOf(model, control);
    return control.fixed === '' && control.bench !== null && value !== null && isTurned(value, control);
  };
  for (const control of model.get('controls').filter(turned)) {
    const { control: kind, of, bench } = control;
    if (kind === 'time') {
      changes.time = bench ?? 0;
    } else {
      changes[kind] = { ...(changes[kind] ?? model.get(kind)), [of]: bench ?? 0 };
    }
  }
  return changes;
}
