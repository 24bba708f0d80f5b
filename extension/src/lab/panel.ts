/** A Lumino widget that shows one file, and lays over it what is dropped. */

import type { IThemeManager } from '@jupyterlab/apputils';
import { ServerConnection, type Contents } from '@jupyterlab/services';
import type { Message } from '@lumino/messaging';
import { Widget } from '@lumino/widgets';

import { Refused, request } from '../api.js';
import { spectraOf, type Spectra } from '../model/payload.js';
import type { Figures } from '../view/figures.js';
import type { Source } from '../view/layers.js';
import { counted, type Dispose } from '../view/listening.js';
import { refusal } from '../view/refusal.js';
import { viewerIn, type Viewer } from '../view/viewer.js';
import { dropped } from './dropping.js';

export interface Server {
  contents: Contents.IManager;
  settings: ServerConnection.ISettings;
}

/** From the request to the first picture, in the browser's own record of times. */
export const MEASURED = 'spectralbench: from request to picture';

export class SpectrumPanel extends Widget {
  constructor(
    private readonly server: Server,
    path: string,
    themes: IThemeManager | null
  ) {
    super();
    this.addClass('sb');
    const repaint = () => this.viewer?.repaint();
    themes?.themeChanged.connect(repaint);
    this.stop = [
      counted(() => themes?.themeChanged.disconnect(repaint)),
      dropped(this.node, path => void this.overlay(path))
    ];
    void this.refresh(path);
  }

  /** Read the file, which may have another name by now, and show it. */
  async refresh(path: string): Promise<void> {
    const number = ++this.asked;
    const start = performance.now();
    const source = this.sourceOf(path);
    let spectra: Spectra;
    try {
      spectra = await this.spectra(path);
    } catch (error) {
      if (number === this.asked) {
        this.clear();
        const said =
          error instanceof Refused ? error.refusal : { message: inWords(error), faults: [], lines: [] };
        this.node.replaceChildren(refusal(source.name, said));
      }
      return;
    }
    if (number !== this.asked || this.isDisposed) {
      return;
    }
    if (this.viewer && source.path === this.shown) {
      this.viewer.update(spectra);
      return;
    }
    this.clear();
    this.shown = source.path;
    let measured = false;
    this.viewer = viewerIn(this.node, source, spectra, () => {
      if (!measured) {
        measured = true;
        performance.measure(MEASURED, { start, detail: source.name });
      }
    });
  }

  override dispose(): void {
    if (this.isDisposed) {
      return;
    }
    this.asked++;
    this.clear();
    for (const stop of this.stop.splice(0)) {
      stop();
    }
    super.dispose();
  }

  protected override onActivateRequest(message: Message): void {
    super.onActivateRequest(message);
    this.node.querySelector<HTMLElement>('.sb-chart')?.focus();
  }

  private async overlay(path: string): Promise<void> {
    const source = this.sourceOf(path);
    try {
      this.viewer?.add(source, await this.spectra(path));
    } catch (error) {
      this.viewer?.refuse(`${source.name} is not laid over this chart: ${inWords(error)}`);
    }
  }

  private async spectra(path: string): Promise<Spectra> {
    const answer = await request('spectra', { path: this.local(path) }, this.server.settings);
    return spectraOf(await answer.arrayBuffer());
  }

  private sourceOf(path: string): Source {
    const local = this.local(path);
    return {
      path: local,
      name: local.split('/').pop() ?? local,
      ask: async ({ quantity, block }, low, high) => {
        const query = { path: local, quantity, block: block ?? '', low: String(low), high: String(high) };
        const answer = await request('figures', query, this.server.settings);
        return (await answer.json()) as Figures;
      }
    };
  }

  private local(path: string): string {
    return this.server.contents.localPath(path);
  }

  private clear(): void {
    this.viewer?.dispose();
    this.viewer = undefined;
  }

  private readonly stop: Dispose[];
  private viewer: Viewer | undefined;
  private shown = '';
  private asked = 0;
}

function inWords(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
