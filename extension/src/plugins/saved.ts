/** Registers what shows our widgets in notebooks, with a kernel or without. */

import type { JupyterFrontEnd, JupyterFrontEndPlugin } from '@jupyterlab/application';
import { IRenderMimeRegistry } from '@jupyterlab/rendermime';

import { MIME, SavedView, type Render } from '../lab/saved.js';
import frameCheck from '../widget/frame_check.js';
import lightPath from '../widget/light_path.js';
import transmission from '../widget/transmission.js';

const RENDERS: Record<string, Render> = {
  light_path: lightPath.render,
  frame_check: frameCheck.render,
  transmission: transmission.render
};
const BEFORE_WIDGETS = -20; // the renderer of live widgets has -10, and ours asks it first

export const saved: JupyterFrontEndPlugin<void> = {
  id: 'spectralbench:saved',
  description: 'Shows widgets of spectralbench in notebooks, also without a kernel.',
  autoStart: true,
  requires: [IRenderMimeRegistry],
  activate: (_: JupyterFrontEnd, registry: IRenderMimeRegistry) => {
    registry.addFactory(
      {
        safe: true,
        mimeTypes: [MIME],
        createRenderer: () => new SavedView(RENDERS)
      },
      BEFORE_WIDGETS
    );
  }
};
