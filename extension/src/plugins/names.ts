/** Registers the look-up of the package's functions. */

import type { JupyterFrontEnd, JupyterFrontEndPlugin } from '@jupyterlab/application';
import { ICommandPalette } from '@jupyterlab/apputils';

import { NamesPanel } from '../lab/names.js';

const LOOK_UP = 'spectralbench:look-up';
const CATEGORY = 'Spectra and benches';

export const names: JupyterFrontEndPlugin<void> = {
  id: 'spectralbench:names',
  description: 'Looks up a function of the package, and puts it into a notebook.',
  autoStart: true,
  optional: [ICommandPalette],
  activate: (app: JupyterFrontEnd, palette: ICommandPalette | null) => {
    const { commands, shell, serviceManager } = app;
    let panel: NamesPanel | undefined;
    commands.addCommand(LOOK_UP, {
      label: 'Look up a function of spectralbench…',
      caption: 'Search the public functions, read what one does, put it into the current notebook',
      describedBy: {
        args: {
          type: 'object',
          properties: { query: { type: 'string', description: 'What to search for at first' } }
        }
      },
      execute: args => {
        if (!panel || panel.isDisposed) {
          panel = new NamesPanel(app, serviceManager.serverSettings);
        }
        if (!panel.isAttached) {
          shell.add(panel, 'right', { rank: 900 });
        }
        panel.search(typeof args.query === 'string' ? args.query : undefined);
        shell.activateById(panel.id);
      }
    });
    palette?.addItem({ command: LOOK_UP, category: CATEGORY });
  }
};
