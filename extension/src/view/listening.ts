/** Everything that listens is counted, and returns what makes it stop. */

export type Dispose = () => void;

let count = 0;

/** How many listeners and observers there are now. */
export function listening(): number {
  return count;
}

/** Count something that listens; what is returned stops it, once. */
export function counted(stop: Dispose): Dispose {
  count++;
  let over = false;
  return () => {
    if (!over) {
      over = true;
      count--;
      stop();
    }
  };
}

/** Listen to an event of an element, or of anything else that has events. */
export function listen<E extends Event>(
  target: EventTarget,
  type: string,
  heard: (event: E) => void,
  options?: AddEventListenerOptions
): Dispose {
  const listener = heard as EventListener;
  target.addEventListener(type, listener, options);
  return counted(() => {
    target.removeEventListener(type, listener, options);
  });
}

/** One dispose for many. */
export function all(...disposes: Dispose[]): Dispose {
  return () => {
    for (const dispose of disposes.splice(0)) {
      dispose();
    }
  };
}

/** A function that waits until nobody has called it for some time; stopping it forgets what waits. */
export function delayed<A extends unknown[]>(
  wait: number,
  work: (...of: A) => void
): { call: (...of: A) => void; stop: Dispose } {
  let timer: number | undefined;
  return {
    call: (...of) => {
      window.clearTimeout(timer);
      timer = window.setTimeout(() => {
        work(...of);
      }, wait);
    },
    stop: counted(() => {
      window.clearTimeout(timer);
    })
  };
}
