/** A Lumino widget that shows one file, and lays over it what is dropped. */

import type { IThemeManager } from '@jupyterlab/apputils';
import { ServerConnection, type Contents } from '@jupyterlab/services';
import type { Message } from '@lumino/messaging';
import { Widget } from '@lumino/widgets';

import { Refused, request } from '../api.js';
import type { Choices } from '../model/choices.js';
import { spectraOf, type Spectra } from '../model/payload.js';
import { placeOn } from '../model/text.js';
import type { Answer } from '../view/figures.js';
import type { Source } from '../view/layers.js';
import { counted, type Dispose } from '../view/listening.js';
import { refusal } from '../view/refusal.js';
import { viewerIn, type Viewer } from '../view/viewer.js';
import type { Chosen } from './choices.js';
import { dropped } from './dropping.js';

export interface Server {
  contents: Contents.IManager;
  settings: ServerConnection.ISettings;
  /** Where its files lie on the disk; empty if it does not say. */
  root: string;
}

/** From the request to the first picture, in the browser's own record of times. */
export const MEASURED = 'spectralbench: from request to picture';

const HELD = 'the chart shows what it held';

export class SpectrumPanel extends Widget {
  constructor(
    private readonly server: Server,
    path: string,
    themes: IThemeManager | null,
    private readonly chosen: Chosen
  ) {
    super();
    this.addClass('sb');
    const repaint = () => this.viewer?.repaint();
    themes?.themeChanged.connect(repaint);
    this.stop = [
      counted(() => themes?.themeChanged.disconnect(repaint)),
      dropped(this.node, path => void this.overlay(path)),
      chosen.listen((now, before) => void this.follow(now, before))
    ];
    void this.refresh(path);
  }

  /** Read the file, which may have another name by now, and show it. */
  async refresh(path: string): Promise<void> {
    const number = ++this.asked;
    this.path = path;
    const start = performance.now();
    const source = this.sourceOf(path);
    const over = new Map<string, Spectra>();
    let spectra: Spectra;
    try {
      spectra = await this.spectra(source.path);
    } catch (error) {
      if (number === this.asked) {
        this.clear();
        const said =
          error instanceof Refused ? error.refusal : { message: inWords(error), faults: [], lines: [] };
        this.node.replaceChildren(refusal(source.name, said));
      }
      return;
    }
    const lost: string[] = [];
    for (const other of this.viewer?.over() ?? []) {
      try {
        over.set(other.path, await this.spectra(other.path));
      } catch (error) {
        lost.push(`${other.name} cannot be read again, and is shown as it was: ${inWords(error)}`);
      }
    }
    if (number !== this.asked || this.isDisposed) {
      return;
    }
    if (this.viewer && source.path === this.shown) {
      this.viewer.update(spectra, over);
      this.viewer.refuse(lost.join('. '));
      return;
    }
    this.clear();
    this.shown = source.path;
    let measured = false;
    this.viewer = viewerIn(this.node, source, spectra, this.chosen.now, {
      drawn: () => {
        if (!measured) {
          measured = true;
          performance.measure(MEASURED, { start, detail: source.name });
        }
      },
      changed: () => void this.refresh(this.path)
    });
  }

  /** Say that the file is not there any more. */
  lose(): void {
    this.viewer?.refuse(`${this.local(this.path)} is gone: ${HELD}`);
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

  /** Show what is open as the settings now say: in their unit read anew, in their band, in their palette. */
  private async follow(now: Choices, before: Choices): Promise<void> {
    this.viewer?.prefer(now);
    if (now.irradiance !== before.irradiance) {
      await this.refresh(this.path);
    }
  }

  private async overlay(path: string): Promise<void> {
    const source = this.sourceOf(path);
    try {
      this.viewer?.add(source, await this.spectra(source.path));
    } catch (error) {
      this.viewer?.refuse(`${source.name} is not laid over this chart: ${inWords(error)}`);
    }
  }

  private async spectra(path: string): Promise<Spectra> {
    const { irradiance } = this.chosen.now;
    const answer = await request('spectra', { path, irradiance }, this.server.settings);
    return spectraOf(await answer.arrayBuffer());
  }

  private sourceOf(path: string): Source {
    const local = this.local(path);
    return {
      path: local,
      name: local.split('/').pop() ?? local,
      place: placeOn(this.server.root, local),
      ask: async ({ quantity, block }, low, high) => {
        const { irradiance } = this.chosen.now;
        const limits = { low: String(low), high: String(high) };
        const query = { path: local, quantity, block: block ?? '', irradiance, ...limits };
        try {
          const answer = await request('figures', query, this.server.settings);
          return (await answer.json()) as Answer;
        } catch (error) {
          if (error instanceof Refused && error.refusal.isMissing) {
            throw new Error(`it is gone: ${HELD}`);
          }
          throw error;
        }
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
  private path = '';
  private shown = '';
  private asked = 0;
}

function inWords(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
