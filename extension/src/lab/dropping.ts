/** Files dragged here from the file browser. */

import type { Drag } from '@lumino/dragdrop';

import { all, listen, type Dispose } from '../view/listening.js';

const FILES = 'application/x-jupyter-icontents';

/** Take what is dropped onto an element, one path after another. */
export function dropped(node: HTMLElement, take: (path: string) => void): Dispose {
  const mark = (on: boolean) => {
    node.classList.toggle('sb-dropping', on);
  };
  const accepted = (event: Drag.Event) => {
    if (!event.mimeData.hasData(FILES)) {
      return false;
    }
    event.preventDefault();
    event.stopPropagation();
    return true;
  };
  return all(
    listen<Drag.Event>(node, 'lm-dragenter', event => {
      mark(accepted(event));
    }),
    listen<Drag.Event>(node, 'lm-dragover', event => {
      if (accepted(event)) {
        event.dropAction = event.proposedAction;
      }
    }),
    listen<Drag.Event>(node, 'lm-dragleave', () => {
      mark(false);
    }),
    listen<Drag.Event>(node, 'lm-drop', event => {
      mark(false);
      if (accepted(event)) {
        event.dropAction = 'copy'; // nothing is moved
        for (const path of event.mimeData.getData(FILES) as string[]) {
          take(path);
        }
      }
    })
  );
}
