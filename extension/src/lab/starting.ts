/** Something new in a folder: a bench, or a notebook that runs already. */

import type { JupyterFrontEnd } from '@jupyterlab/application';
import { InputDialog, showErrorMessage } from '@jupyterlab/apputils';

import { make } from '../api.js';

/** Notebooks by the names that the server knows. */
export const TEMPLATES = {
  bench_spectra: {
    title: 'Bench spectra',
    caption: 'From raw files to the spectral irradiance of a source and its figures in a band, with intervals'
  },
  housing_material: {
    title: 'Housing material',
    caption: 'A sample against references: transmittance, other thicknesses, what each source brings through'
  },
  which_source: {
    title: 'Which source',
    caption: 'From a bench folder to the comparison of its sources and a plan of what to test first'
  }
} as const;

const NAME = /^[^./\\][^/\\]*$/;
const WANTED = 'A bench needs the name of one new folder: some letters, no "/" in it, and no "." in front.';

export type Template = keyof typeof TEMPLATES;

/** Whether a command was asked for a notebook that there is. */
export function isTemplate(name: unknown): name is Template {
  return typeof name === 'string' && name in TEMPLATES;
}

/** The folder that a command was asked for, or else the one that the file browser shows. */
export function folderOf(app: JupyterFrontEnd, asked: unknown): string {
  if (typeof asked === 'string') {
    return asked;
  }
  for (const widget of app.shell.widgets('left')) {
    if (widget.id === 'filebrowser' && 'model' in widget) {
      const { path } = widget.model as { path?: unknown };
      return typeof path === 'string' ? path : '';
    }
  }
  return '';
}

/** Ask for the name of a folder, make a bench of it, and open its manifest. */
export async function newBench(app: JupyterFrontEnd, folder: string, named: unknown): Promise<void> {
  let name = named;
  if (typeof name === 'string') {
    name = name.trim();
  } else {
    const said = await InputDialog.getText({
      title: 'New bench',
      label: `Name of a new folder${folder === '' ? '' : ` in ${folder}`}, for bench.toml and the raw files`,
      text: 'bench',
      okLabel: 'Create'
    });
    if (!said.button.accept) {
      return;
    }
    name = said.value?.trim();
  }
  if (typeof name !== 'string' || !NAME.test(name)) {
    await showErrorMessage('No new bench', WANTED);
  } else {
    await made(app, 'bench', folder, name, 'No new bench');
  }
}

/** Put a notebook into a folder, and open it; if none was named, ask which. */
export async function newNotebook(app: JupyterFrontEnd, folder: string, named: unknown): Promise<void> {
  let template = isTemplate(named) ? named : undefined;
  if (!template) {
    const titles = Object.entries(TEMPLATES) as [Template, { title: string }][];
    const said = await InputDialog.getItem({
      title: 'New notebook',
      label: 'What for',
      items: titles.map(([, { title }]) => title),
      okLabel: 'Create'
    });
    template = said.button.accept ? titles.find(([, { title }]) => title === said.value)?.[0] : undefined;
  }
  if (template) {
    await made(app, template, folder, '', 'No new notebook');
  }
}

async function made(
  app: JupyterFrontEnd,
  what: string,
  folder: string,
  name: string,
  otherwise: string
): Promise<void> {
  const { contents, serverSettings } = app.serviceManager;
  const drive = contents.driveName(folder);
  const place = [contents.localPath(folder), name].filter(part => part !== '').join('/');
  let path: string;
  try {
    path = await make(what, place, serverSettings);
  } catch (error) {
    await showErrorMessage(otherwise, error instanceof Error ? error.message : String(error));
    return;
  }
  const { commands } = app;
  if (commands.hasCommand('filebrowser:refresh')) {
    void commands.execute('filebrowser:refresh');
  }
  await commands.execute('docmanager:open', { path: drive === '' ? path : `${drive}:${path}` });
}
