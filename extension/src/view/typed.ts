/** A field for a number, with a point or a comma before its decimals, and words beside it. */

import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';

export interface Field {
  box: HTMLInputElement;
  /** Stands beside the field; nothing is there as long as nothing is to be said. */
  words: HTMLElement;
  say: (words: string) => void;
  /** Show a number, unless somebody is typing another one. */
  show: (value: number | null) => void;
  dispose: Dispose;
}

export interface Limits {
  low?: number;
  high?: number;
}

const DIGITS = 7;
let made = 0;

/**
 * A field with a name. It is of text, for a browser drops a comma that it does not take for a decimal sign;
 * `typed` hears what stands in it, `stepped` an arrow key.
 */
export function fieldOf(
  name: string,
  { low, high }: Limits,
  typed: (text: string, event: Event) => void,
  stepped: (by: number, event: Event) => void = () => undefined
): Field {
  const id = `sb-said-${String(++made)}`;
  const ends = Object.entries({ 'aria-valuemin': low, 'aria-valuemax': high }).flatMap(([key, value]) =>
    value === undefined ? [] : [[key, String(value)]]
  );
  const box = element('input', {
    ...{ type: 'text', inputmode: 'decimal', role: 'spinbutton', autocomplete: 'off', spellcheck: 'false' },
    ...{ class: 'sb-number-field', 'aria-label': name, 'aria-describedby': id },
    ...(Object.fromEntries(ends) as Record<string, string>)
  });
  let typing = false;
  const words = element('span', { id, class: 'sb-said', role: 'alert', hidden: '' });
  return {
    box,
    words,
    say: said => {
      words.hidden = said === '';
      words.textContent = said;
    },
    show: value => {
      if (typing) {
        return;
      }
      box.value = value === null ? '' : String(Number(value.toPrecision(DIGITS)));
      if (value !== null) {
        box.setAttribute('aria-valuenow', box.value);
      }
    },
    dispose: all(
      listen(box, 'input', () => {
        typing = true;
      }),
      listen(box, 'blur', () => {
        typing = false;
      }),
      listen(box, 'change', event => {
        typing = false;
        typed(box.value, event);
      }),
      listen<KeyboardEvent>(box, 'keydown', event => {
        const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
        if (way !== undefined && !event.altKey) {
          event.preventDefault();
          typing = false;
          stepped(way, event);
        }
      })
    )
  };
}
