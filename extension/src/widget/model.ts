/** What a notebook gives a widget: the traits of its Python half, and how they are sent. */

import type { Control, Kind } from '../model/controls.js';
import type { Source } from '../view/desk.js';

export interface Traits {
  thickness: Record<string, number>;
  distance: Record<string, number>;
  hours: Record<string, number>;
  level: Record<string, number>;
  time: number;
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

export type Trait = keyof Traits;

/** Hears that the kernel has worked a message off, where the host tells. */
export interface Callbacks {
  iopub: { status: (message: { content: { execution_state?: string } }) => void };
}

export interface Model {
  get: <T extends Trait>(name: T) => Traits[T];
  set: <T extends Trait>(name: T, value: Traits[T]) => void;
  save_changes: (callbacks?: Callbacks) => void;
  on: (event: string, heard: () => void) => void;
  off: (event: string, heard: () => void) => void;
  comm_live?: boolean;
}

/** What a control stands at. */
export function valueOf(model: Model, { control, of, bench }: Control): number | null {
  return control === 'time' ? model.get('time') : (model.get(control)[of] ?? bench);
}

/** The values of one kind with one of them changed. */
export function changed(
  model: Model,
  kind: Exclude<Kind, 'time'>,
  of: string,
  value: number
): Record<string, number> {
  return { ...model.get(kind), [of]: value };
}
