/** Messages between a browser and a kernel, whatever the traits are; and somebody notices if nothing comes back. */

import { all, counted, listen, type Dispose } from '../view/listening.js';

/** What a notebook gives a widget with traits of a kind. */
export interface ModelOf<T> {
  get: <K extends keyof T>(name: K) => T[K];
  set: <K extends keyof T>(name: K, value: T[K]) => void;
  save_changes: (callbacks?: Callbacks) => void;
  on: (event: string, heard: () => void) => void;
  off: (event: string, heard: () => void) => void;
  comm_live?: boolean;
}

/** Hears that the kernel has worked a message off, where the host tells. */
export interface Callbacks {
  iopub: { status: (message: { content: { execution_state?: string } }) => void };
}

export interface Talk<T> {
  /** Send what a hand did. */
  turn: (changes: Partial<T>) => void;
  dispose: Dispose;
}

export interface Hears<T> {
  came: (trait: keyof T & string) => void;
  connected: (on: boolean) => void;
}

const PATIENCE = 5000; // ms that a visible page waits for an answer

/** Talk with the kernel through a model. */
export function talkOf<T>(
  model: ModelOf<T>,
  el: HTMLElement,
  traits: readonly (keyof T & string)[],
  hears: Hears<T>
): Talk<T> {
  let waiting: number | undefined;
  let isSilent = false;
  let wasConnected: boolean | undefined;
  let isLive: boolean | undefined;
  let isOurs = false; // what is being set comes from here
  const look = () => {
    const isMarked = el.closest('.jupyter-widgets-disconnected') !== null;
    const now = (model.comm_live ?? isLive ?? true) && !isMarked && !isSilent;
    if (now !== wasConnected) {
      wasConnected = now;
      hears.connected(now);
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
      if (document.visibilityState === 'visible') {
        isSilent = true;
        look();
      } else {
        wait();
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
    isLive = (this as { model?: Partial<ModelOf<T>> } | undefined)?.model?.comm_live ?? isLive;
    look();
  }
  model.on('comm_live_update', lived);
  look();
  return {
    turn: changes => {
      isOurs = true;
      for (const [name, value] of Object.entries(changes) as [keyof T, never][]) {
        model.set(name, value);
      }
      isOurs = false;
      model.save_changes(callbacks);
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
