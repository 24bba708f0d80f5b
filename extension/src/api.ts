/** The one way to the server. */

import { ServerConnection } from '@jupyterlab/services';

import { refusalOf, type Refusal } from './model/faults.js';

/** What the server did not give, in its own words. */
export class Refused extends Error {
  constructor(readonly refusal: Refusal) {
    super(refusal.message);
  }
}

/** Ask the package's part of the server; the answer, or `Refused` with the reason. */
export async function request(
  name: 'spectra' | 'figures' | 'names',
  query: Record<string, string>,
  settings: ServerConnection.ISettings
): Promise<Response> {
  return answer(`${name}?${new URLSearchParams(query).toString()}`, {}, settings);
}

/** Have something new made; the path of what is to be opened, or `Refused` with the reason. */
export async function make(
  what: string,
  folder: string,
  settings: ServerConnection.ISettings
): Promise<string> {
  const body = JSON.stringify({ what, folder });
  const made = await answer('new', { method: 'POST', body }, settings);
  return ((await made.json()) as { path: string }).path;
}

async function answer(
  place: string,
  init: RequestInit,
  settings: ServerConnection.ISettings
): Promise<Response> {
  const url = `${settings.baseUrl.replace(/\/$/, '')}/spectralbench/${place}`;
  let found: Response;
  try {
    found = await ServerConnection.makeRequest(url, init, settings);
  } catch {
    throw refused('The server cannot be reached. Look whether Jupyter still runs, then try it again.');
  }
  const type = found.headers.get('Content-Type') ?? '';
  if (found.status === 404 && !type.includes('json')) {
    throw refused(
      'The server does not know spectralbench. Install it where Jupyter Server runs, and start the server again.'
    );
  }
  if (!found.ok) {
    throw new Refused(refusalOf(await found.text(), found.status));
  }
  return found;
}

function refused(message: string): Refused {
  return new Refused({ message, faults: [], lines: [] });
}
