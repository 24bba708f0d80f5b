/** A widget as it was saved in a notebook: its traits without a kernel. */

import type { Model } from './model.js';

/** What is kept of a widget beside its picture. */
export interface Saved {
  widget: string;
  version: number;
  state: Record<string, unknown>;
}

const VERSION = 1;

/** Whether something is a saved widget that this page can show. */
export function isSaved(data: unknown): data is Saved {
  const found = data as Partial<Saved> | null;
  return typeof found === 'object' && found?.version === VERSION && typeof found.state === 'object';
}

/** A model that holds still: it can be set by hand, and nothing ever answers. */
export function savedModel({ state }: Saved): Model {
  const values = new Map(Object.entries(state).map(([name, value]) => [name, restored(value)]));
  const listeners = new Map<string, Set<() => void>>();
  return {
    get: name => values.get(name),
    set: (name, value) => {
      values.set(name, value);
      for (const heard of listeners.get(`change:${name}`) ?? []) {
        heard();
      }
    },
    save_changes: () => undefined,
    on: (event, heard) => {
      listeners.set(event, (listeners.get(event) ?? new Set()).add(heard));
    },
    off: (event, heard) => {
      listeners.get(event)?.delete(heard);
    },
    comm_live: false,
    saved: true
  };
}

/** Bytes are kept as text. */
function restored(value: unknown): unknown {
  const text = (value as { base64?: unknown } | null)?.base64;
  if (typeof text !== 'string') {
    return value;
  }
  const bytes = Uint8Array.from(atob(text), letter => letter.charCodeAt(0));
  return new DataView(bytes.buffer);
}
