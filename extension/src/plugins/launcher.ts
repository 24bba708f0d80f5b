/** Registers what begins something new: cards of the launcher and commands of the palette. */

import type { JupyterFrontEnd, JupyterFrontEndPlugin } from '@jupyterlab/application';
import { ICommandPalette } from '@jupyterlab/apputils';
import { ILauncher } from '@jupyterlab/launcher';

import { benchIcon, icon } from '../lab/icon.js';
import { folderOf, isTemplate, newBench, newNotebook, TEMPLATES } from '../lab/starting.js';

const BENCH = 'spectralbench:new-bench';
const NOTEBOOK = 'spectralbench:new-notebook';
const CATEGORY = 'Spectra and benches';

export const launcher: JupyterFrontEndPlugin<void> = {
  id: 'spectralbench:launcher',
  description: 'Starts a bench, or a notebook that runs already.',
  autoStart: true,
  optional: [ILauncher, ICommandPalette],
  activate: (app: JupyterFrontEnd, cards: ILauncher | null, palette: ICommandPalette | null) => {
    const { commands } = app;
    const cwd = {
      type: 'string',
      description: 'Folder, as the file browser shows it; default: the one that it shows'
    };
    commands.addCommand(BENCH, {
      label: 'New bench',
      caption: 'A new folder with a bench.toml that explains itself, and a place for raw files',
      icon: args => (args.isPalette ? undefined : benchIcon),
      describedBy: {
        args: {
          type: 'object',
          properties: {
            cwd,
            name: { type: 'string', description: 'Of the new folder; asked for, if it is not given' },
            isPalette: { type: 'boolean' }
          }
        }
      },
      execute: args => newBench(app, folderOf(app, args.cwd), args.name)
    });
    commands.addCommand(NOTEBOOK, {
      label: args => {
        const title = isTemplate(args.template) ? TEMPLATES[args.template].title : '';
        return title === '' ? 'New notebook…' : args.isPalette ? `New notebook: ${title}` : title;
      },
      caption: args =>
        isTemplate(args.template)
          ? TEMPLATES[args.template].caption
          : 'A notebook that runs already, on an invented bench if there is no other',
      icon: args => (args.isPalette ? undefined : icon),
      describedBy: {
        args: {
          type: 'object',
          properties: {
            cwd,
            template: {
              type: 'string',
              enum: Object.keys(TEMPLATES),
              description: 'Which notebook; asked for, if it is not given'
            },
            isPalette: { type: 'boolean' }
          }
        }
      },
      execute: args => newNotebook(app, folderOf(app, args.cwd), args.template)
    });
    cards?.add({ command: BENCH, category: CATEGORY, rank: 0 });
    palette?.addItem({ command: BENCH, category: CATEGORY, args: { isPalette: true } });
    Object.keys(TEMPLATES).forEach((template, i) => {
      cards?.add({ command: NOTEBOOK, category: CATEGORY, args: { template }, rank: i + 1 });
      palette?.addItem({ command: NOTEBOOK, category: CATEGORY, args: { template, isPalette: true } });
    });
  }
};
