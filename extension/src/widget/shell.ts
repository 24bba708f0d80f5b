/** What surrounds a widget: what is said of the kernel, what is refused, and one painting for each frame. */

import { coloursOf } from '../view/colours.js';
import { element } from '../view/element.js';
import { all, counted, listen, listening, type Dispose } from '../view/listening.js';
import type { Model } from './model.js';
import { talkOf, type Standing, type Talk } from './talk.js';

/** What a widget is made of. */
export interface Content<T> {
  nodes: readonly HTMLElement[];
  /** What each trait changes in what is seen, in the order in which that is painted. */
  paint: Partial<Record<keyof T & string, () => void>>;
  /** Traits that a picture is drawn from. */
  pictures: readonly (keyof T & string)[];
  /** Whether what was refused is said where it was asked for, and not at the top. */
  refused?: (words: string) => boolean;
  enable: (on: boolean) => void;
  repaint: () => void;
  dispose: Dispose;
}

export type Build<T> = (talk: Talk<T>) => Content<T>;

export interface Entry {
  render: (given: { model: Model; el: HTMLElement }) => Dispose;
}

const SAID: Record<Standing, string> = {
  answers: '',
  silent: 'No answer yet: the kernel may be busy',
  gone: 'Not connected: run the cell again'
};
const SAVED = 'Not connected: this is what the cell showed at first; run it again';
const REFUSED = 'refused: ';
/** What the state of a widget says while Python compares. */
export const BUSY = 'comparing';
const MEASURED = 'spectralbench: from slider to picture';
const STALE = 1000; // ms; a turn whose picture has not come by then changed none

/** What anywidget loads: a widget with a name in words, from which its class is made. */
export function entryOf<T extends { state: string }>(name: string, build: Build<T>): Entry {
  return {
    render: ({ model, el }) => {
      try {
        const dispose = shellIn(name, model, el, build);
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
  model: Model,
  el: HTMLElement,
  build: Build<T>
): Dispose {
  const notice = element('p', { class: 'sbl-alert', role: 'alert', hidden: '' });
  const lost = element('p', { class: 'sbl-lost', role: 'status' });
  const root = element('div', { class: 'sb-light-path', role: 'region', 'aria-label': name });
  root.classList.add(`sb-${name.replaceAll(' ', '-')}`);
  el.replaceChildren(root);
  const say = (words: string) => {
    notice.hidden = words === '';
    notice.textContent = words;
  };
  const moves = movesOf();
  const content = build({
    get: trait => model.get(trait) as T[typeof trait],
    tell: changes => {
      talk.tell(changes);
    },
    turn: (changes, moved) => {
      moves.moved(moved);
      talk.turn(changes);
    }
  });
  root.append(lost, notice, ...content.nodes);
  const paint: Content<T>['paint'] = {
    ...content.paint,
    state: () => {
      const state = talk.get('state');
      const words = state.startsWith(REFUSED) ? state.slice(REFUSED.length) : '';
      say(content.refused?.(words) ? '' : words);
      content.paint.state?.();
    }
  };
  const traits = Object.keys(paint) as (keyof T & string)[];
  const due = new Set<keyof T & string>();
  let frame = 0;
  let isBroken = false; // what came last could not be drawn
  let isPicture = false; // what was painted since the last frame
  const show = () => {
    frame = 0;
    paintDue();
    if (isPicture) {
      isPicture = false;
      moves.seen();
    }
  };
  const paintDue = () => {
    const now = new Set(traits.filter(trait => due.has(trait)).map(trait => paint[trait]));
    isPicture ||= content.pictures.some(trait => due.has(trait));
    due.clear();
    try {
      now.forEach(one => one?.());
      if (isBroken) {
        isBroken = false;
        paint.state?.();
      }
    } catch (error) {
      isBroken = true;
      say(`This cannot be drawn: ${messageOf(error)}`);
    }
  };
  const later = (...some: (keyof T & string)[]) => {
    some.forEach(trait => due.add(trait));
    frame ||= requestAnimationFrame(show);
  };
  /** What comes first within a frame is painted at once, together with all that comes along with it. */
  const soon = (trait: keyof T & string) => {
    if (frame === 0) {
      queueMicrotask(() => {
        if (frame !== 0) {
          paintDue();
        }
      });
    }
    later(trait);
  };
  const talk = talkOf<T>(model, el, traits, {
    came: soon,
    stands: standing => {
      lost.textContent = standing === 'gone' && model.saved ? SAVED : SAID[standing];
      content.enable(standing !== 'gone');
    },
    isBusy: () => model.get('state') === BUSY
  });
  later(...traits);
  return all(
    talk.dispose,
    moves.dispose,
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

/** Measures how long it takes from a hand's move until its picture is painted. */
function movesOf(): { moved: (at?: number) => void; seen: () => void; dispose: Dispose } {
  let since: number | undefined;
  let ending = 0;
  return {
    moved: (at = performance.now()) => {
      since = since !== undefined && at - since < STALE ? since : at;
    },
    seen: () => {
      if (since !== undefined) {
        const start = since;
        since = undefined;
        ending = window.setTimeout(() => performance.measure(MEASURED, { start })); // once it is painted
      }
    },
    dispose: counted(() => {
      window.clearTimeout(ending);
    })
  };
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
