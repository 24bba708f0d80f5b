/** Messages between browser and kernel: what is turned goes out, and somebody notices if nothing comes back. */

import { all, counted, listen, type Dispose } from '../view/listening.js';
import type { Model, Trait, Traits } from './model.js';

export interface Exchange {
  /** Send what a hand did. */
  turn: (changes: Partial<Traits>) => void;
  /** Send what needs no answer. */
  tell: (changes: Partial<Traits>) => void;
  dispose: Dispose;
}

export interface Heard {
  /** A trait has come from the kernel. */
  came: (trait: Trait) => void;
  /** Whether there is a kernel that answers. */
  connected: (on: boolean) => void;
}

const PATIENCE = 5000; // ms that a visible page waits for an answer
const ANSWERS: readonly Trait[] = ['sent', 'passed', 'absorbed', 'swept', 'comparison', 'state'];
const TRAITS: readonly Trait[] = [
  ...ANSWERS,
  ...(['controls', 'sources', 'thickness', 'distance', 'hours', 'level', 'time', 'shown', 'sweep'] as const)
];

/** Talk with the kernel through a model. */
export function exchangeOf(model: Model, el: HTMLElement, heard: Heard): Exchange {
  let waiting: number | undefined;
  let isSilent = false;
  let wasConnected: boolean | undefined;
  let isLive: boolean | undefined;
  const look = () => {
    const isMarked = el.closest('.jupyter-widgets-disconnected') !== null;
    const now = (model.comm_live ?? isLive ?? true) && !isMarked && !isSilent;
    if (now !== wasConnected) {
      wasConnected = now;
      heard.connected(now);
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
      if (document.visibilityState !== 'visible' || model.get('state') === 'comparing') {
        wait();
      } else {
        isSilent = true;
        look();
      }
    }, PATIENCE);
  };
  const callbacks = {
    iopub: {
      status: ({ content }: { content: { execution_state?: string } }) => {
        if (content.execution_state === 'idle') {
          answered();
        }
      }
    }
  };
  const put = (changes: Partial<Traits>) => {
    for (const [name, value] of Object.entries(changes) as [Trait, never][]) {
      model.set(name, value);
    }
    model.save_changes(callbacks);
  };
  const stops = TRAITS.map(trait => {
    const came = () => {
      if (ANSWERS.includes(trait)) {
        answered();
      }
      heard.came(trait);
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
    turn: changes => {
      put(changes);
      wait();
    },
    tell: put,
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
