/** What a notebook gives a widget, whatever its traits are. */

export interface Model {
  get: (name: string) => unknown;
  set: (name: string, value: unknown) => void;
  save_changes: (callbacks?: Callbacks) => void;
  on: (event: string, heard: () => void) => void;
  off: (event: string, heard: () => void) => void;
  comm_live?: boolean;
  /** Whether all this comes out of a notebook. */
  saved?: boolean;
}

/** Hears that the kernel has worked a message off, where the host tells. */
export interface Callbacks {
  iopub: { status: (message: { content: { execution_state?: string } }) => void };
}
