/** The light's way in a notebook: what anywidget loads. */

import { element } from '../view/element.js';
import { listening, type Dispose } from '../view/listening.js';
import type { Model } from './model.js';
import { panelIn } from './panel.js';

const CLOSED = 'spectralbench: light path closed';

/** Show the widget in an element; what is returned takes it away. */
function render({ model, el }: { model: Model; el: HTMLElement }): Dispose {
  try {
    const dispose = panelIn(model, el);
    return () => {
      dispose();
      performance.mark(CLOSED, { detail: listening() });
    };
  } catch (error) {
    const words = error instanceof Error ? error.message : String(error);
    el.replaceChildren(element('p', { role: 'alert' }, `The light path is not shown: ${words}`));
    return () => undefined;
  }
}

export default { render };
