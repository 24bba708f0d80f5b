/** Messages between a browser and a kernel, whatever the traits are; and somebody notices if nothing comes back. */

import { all, counted, listen, type Dispose } from '../view/listening.js';
import type { Callbacks, Model } from './model.js';

/** What a widget may ask and say. */
export interface Talk<T> {
  get: <K extends keyof T & string>(trait: K) => T[K];
  /** Send what a hand did, and when it moved; an answer is waited for. */
  turn: (changes: Partial<T>, moved?: number) => void;
  /** Send what needs no answer. */
  tell: (changes: Partial<T>) => void;
}

/** How it stands with the kernel: it answers, it has not answered for long, or nothing reaches it. */
export type Standing = 'answers' | 'silent' | 'gone';

export interface Hears<T> {
  came: (trait: keyof T & string) => void;
  stands: (standing: Standing) => void;
  /** Whether the kernel has said that it is at work, so that its silence means nothing. */
  isBusy: () => boolean;
}

const PATIENCE = 5000; // ms that a visible page waits for an answer

/** Talk with the kernel through a model. */
export function talkOf<T>(
  model: Model,
  el: HTMLElement,
  traits: readonly (keyof T & string)[],
  hears: Hears<T>
): Talk<T> & { dispose: Dispose } {
  let waiting: number | undefined;
  let isSilent = false;
  let stood: Standing | undefined;
  let isLive: boolean | undefined;
  let isOurs = false; // what is being set comes from here
  const look = () => {
    const isMarked = el.closest('.jupyter-widgets-disconnected') !== null;
    const isGone = isMarked || !(model.comm_live ?? isLive ?? true);
    const now = isGone ? 'gone' : isSilent ? 'silent' : 'answers';
    if (now !== stood) {
      stood = now;
      hears.stands(now);
    }
  };
  const answered = () => {
    window.clearTimeout(waiting);
    waiting = undefined;
    isSilent = false;
    look();
  };
  const wait = () => {
    waiting ??= window.setTimeout(() => {
      waiting = undefined;
      if (document.visibilityState !== 'visible' || hears.isBusy()) {
        wait();
      } else {
        isSilent = true;
        look();
      }
    }, PATIENCE);
  };
  const callbacks: Callbacks = {
    iopub: {
      status: ({ content }) => {
        if (content.execution_state === 'idle') {
          answered();
        }
      }
    }
  };
  const tell = (changes: Partial<T>) => {
    isOurs = true;
    for (const [name, value] of Object.entries(changes)) {
      model.set(name, value);
    }
    isOurs = false;
    model.save_changes(callbacks);
  };
  const stops = traits.map(trait => {
    const came = () => {
      if (!isOurs) {
        answered();
      }
      hears.came(trait);
    };
    model.on(`change:${trait}`, came);
    return counted(() => {
      model.off(`change:${trait}`, came);
    });
  });
  /** The event says nothing; its view, which is `this` of the listener, knows the model itself. */
  function lived(this: unknown): void {
    isLive = (this as { model?: Partial<Model> } | undefined)?.model?.comm_live ?? isLive;
    look();
  }
  model.on('comm_live_update', lived);
  look();
  return {
    get: trait => model.get(trait) as T[typeof trait],
    tell,
    turn: changes => {
      tell(changes);
      wait();
    },
    dispose: all(
      ...stops,
      counted(() => {
        model.off('comm_live_update', lived);
      }),
      counted(() => {
        window.clearTimeout(waiting);
      }),
      listen(document, 'visibilitychange', look)
    )
  };
}
