/** One thing that can be turned: a slider and a box with its number. */

import { isTurned, placeOf, stepped, written, type Control } from '../model/controls.js';
import { takenBy } from '../model/typed.js';
import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';
import { fieldOf } from './typed.js';

export interface Knob {
  node: HTMLElement;
  set: (value: number | null) => void;
  enable: (on: boolean) => void;
  dispose: Dispose;
}

let made = 0;

/** A control; `turned` hears its new value and when somebody's hand moved. */
export function knobOf(control: Control, turned: (value: number, moved: number) => void): Knob {
  return control.fixed === '' ? turnable(control, turned) : fixed(control);
}

/** As text, which opens the reason why it cannot be turned. */
function fixed(control: Control): Knob {
  const id = `sbl-why-${String(++made)}`;
  const value = element('button', { type: 'button', class: 'sbl-fixed', title: control.fixed });
  value.setAttribute('aria-expanded', 'false');
  value.setAttribute('aria-describedby', id);
  const why = element('span', { id, class: 'sbl-why', hidden: '' }, control.fixed);
  const node = element('span', { class: 'sbl-knob' }, value, why);
  const dispose = listen(value, 'click', () => {
    why.hidden = !why.hidden;
    value.setAttribute('aria-expanded', String(!why.hidden));
  });
  return {
    node,
    set: now => {
      value.textContent = written(now ?? control.bench, control);
      value.setAttribute('aria-label', `${control.label}: ${value.textContent}, fixed`);
    },
    enable: () => undefined,
    dispose
  };
}

function turnable(control: Control, turned: (value: number, moved: number) => void): Knob {
  const limits = { min: String(control.low), max: String(control.high), step: String(control.step) };
  const slider = element('input', { type: 'range', ...limits, 'aria-label': control.label });
  const unit = control.units === '' ? '' : `, in ${control.units}`;
  const field = fieldOf(
    `${control.label}${unit}`,
    control,
    (text, event) => {
      const { value, said } = takenBy(text, control);
      if (value === undefined) {
        show(given);
      } else {
        turn(value, event);
      }
      field.say(said);
    },
    (by, event) => {
      turn(stepped((given ?? control.low) + by * control.step, control), event);
    }
  );
  const { box } = field;
  const note = element('span', { class: 'sbl-bench' });
  const track = element('span', { class: 'sbl-track' }, slider);
  if (control.bench !== null) {
    track.style.setProperty('--sbl-bench', String(placeOf(control.bench, control)));
    track.classList.add('sbl-marked');
  }
  const node = element('span', { class: 'sbl-knob' }, track, box, note, field.words);
  let held = false;
  let given: number | null = null;

  const show = (value: number | null) => {
    if (!held) {
      slider.value = String(value ?? control.low);
    }
    field.show(value);
    const other = value !== null && isTurned(value, control);
    slider.setAttribute('aria-valuetext', written(value, control) + (other ? `, ${bench()}` : ''));
    node.classList.toggle('sbl-turned', other);
    note.textContent = other ? bench() : control.control === 'time' && value === 0 ? 'no limit' : '';
  };
  const bench = () => `${control.stood ?? 'bench'} ${written(control.bench, control)}`;
  const turn = (value: number, event: Event) => {
    given = value;
    field.say('');
    show(value);
    turned(value, event.timeStamp);
  };
  const free = () => {
    held = false;
    show(given);
  };
  const dispose = all(
    listen(slider, 'input', event => {
      turn(stepped(slider.valueAsNumber, control), event);
    }),
    listen(slider, 'change', event => {
      turn(stepped(slider.valueAsNumber, control), event);
    }),
    listen(slider, 'pointerdown', () => {
      held = true;
    }),
    ...['pointerup', 'pointercancel', 'blur'].map(type => listen(slider, type, free)),
    listen(box, 'blur', () => {
      show(given);
    }),
    field.dispose
  );
  return {
    node,
    set: value => {
      const now = value ?? control.bench;
      if (now !== given) {
        field.say('');
      }
      given = now;
      show(given);
    },
    enable: on => {
      slider.disabled = box.disabled = !on;
    },
    dispose
  };
}
