/** What surrounds a widget: what is said of the kernel, what is refused, and one painting for each frame. */

import { coloursOf } from '../view/colours.js';
import { element } from '../view/element.js';
import { all, counted, listen, listening, type Dispose } from '../view/listening.js';
import { talkOf, type ModelOf } from './talk.js';

/** What a widget is made of. */
export interface Content<T> {
  nodes: readonly HTMLElement[];
  /** What each trait changes in what is seen. */
  paint: Partial<Record<keyof T & string, () => void>>;
  enable: (on: boolean) => void;
  repaint: () => void;
  dispose: Dispose;
}

/** Builds the content; `turn` sends what a hand did. */
export type Build<T> = (
  model: ModelOf<T>,
  root: HTMLElement,
  turn: (changes: Partial<T>) => void
) => Content<T>;

export interface Entry<T> {
  render: (given: { model: ModelOf<T>; el: HTMLElement }) => Dispose;
}

const SILENT = 'Not connected: run the cell again';
const REFUSED = 'refused: ';

/** What anywidget loads: a widget with a name in words and a class of its own. */
export function entryOf<T extends { state: string }>(name: string, of: string, build: Build<T>): Entry<T> {
  return {
    render: ({ model, el }) => {
      try {
        const dispose = shellIn(name, of, model, el, build);
        return () => {
          dispose();
          performance.mark(`spectralbench: ${name} closed`, { detail: listening() });
        };
      } catch (error) {
        const words = `The ${name} is not shown: ${messageOf(error)}`;
        el.replaceChildren(element('p', { role: 'alert' }, words));
        return () => undefined;
      }
    }
  };
}

function shellIn<T extends { state: string }>(
  name: string,
  of: string,
  model: ModelOf<T>,
  el: HTMLElement,
  build: Build<T>
): Dispose {
  const notice = element('p', { class: 'sbl-alert', role: 'alert', hidden: '' });
  const lost = element('p', { class: 'sbl-lost', role: 'status' });
  const root = element('div', { class: `sb-light-path ${of}`, role: 'region', 'aria-label': name });
  el.replaceChildren(root);
  const say = (words: string) => {
    notice.hidden = words === '';
    notice.textContent = words;
  };
  const content = build(model, root, changes => {
    talk.turn(changes);
  });
  root.append(lost, notice, ...content.nodes);
  const paint: Content<T>['paint'] = {
    ...content.paint,
    state: () => {
      const state = model.get('state');
      say(state.startsWith(REFUSED) ? state.slice(REFUSED.length) : '');
    }
  };
  const traits = Object.keys(paint) as (keyof T & string)[];
  const due = new Set<keyof T & string>();
  let frame = 0;
  const show = () => {
    frame = 0;
    const now = traits.filter(trait => due.has(trait));
    due.clear();
    try {
      now.forEach(trait => paint[trait]?.());
    } catch (error) {
      say(`This cannot be drawn: ${messageOf(error)}`);
    }
  };
  const later = (...some: (keyof T & string)[]) => {
    some.forEach(trait => due.add(trait));
    frame ||= requestAnimationFrame(show);
  };
  const talk = talkOf(model, el, traits, {
    came: trait => {
      later(trait);
    },
    connected: on => {
      lost.textContent = on ? '' : SILENT;
      root.classList.toggle('sbl-offline', !on);
      content.enable(on);
    }
  });
  later(...traits);
  return all(
    talk.dispose,
    counted(() => {
      cancelAnimationFrame(frame);
    }),
    coloursOf(root, content.repaint),
    listen<KeyboardEvent>(root, 'keydown', event => {
      if (!event.ctrlKey && !event.metaKey && !event.altKey) {
        event.stopPropagation(); // a notebook has keys of its own
      }
    }),
    content.dispose,
    () => {
      root.remove();
    }
  );
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
