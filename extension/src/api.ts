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
  name: 'spectra' | 'figures',
  query: Record<string, string>,
  settings: ServerConnection.ISettings
): Promise<Response> {
  const url = `${settings.baseUrl.replace(/\/$/, '')}/spectralbench/${name}?${new URLSearchParams(query).toString()}`;
  let answer: Response;
  try {
    answer = await ServerConnection.makeRequest(url, {}, settings);
  } catch {
    throw refused('The server cannot be reached. Look whether Jupyter still runs, then open the file again.');
  }
  const type = answer.headers.get('Content-Type') ?? '';
  if (answer.status === 404 && !type.includes('json')) {
    throw refused(
      'The server does not know spectralbench. Install it where Jupyter Server runs, and start the server again.'
    );
  }
  if (!answer.ok) {
    throw new Refused(refusalOf(await answer.text(), answer.status));
  }
  return answer;
}

function refused(message: string): Refused {
  return new Refused({ message, faults: [], lines: [] });
}
