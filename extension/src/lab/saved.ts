/** A widget in a notebook: live where its kernel is, otherwise as it was when its cell ran. */

import type { IRenderMime } from '@jupyterlab/rendermime-interfaces';
import type { Message } from '@lumino/messaging';
import { Panel, Widget } from '@lumino/widgets';

import { counted, type Dispose } from '../view/listening.js';
import { isSaved, savedModel } from '../widget/saved.js';
import type { Model } from '../widget/model.js';

/** What our widgets put beside the picture that other pages show. */
export const MIME = 'application/vnd.spectralbench.view+json';

export type Render = (given: { model: Model; el: HTMLElement }) => Dispose;

/** Makes renderers of the kinds of output that a notebook knows. */
interface Registry {
  mimeTypes: readonly string[];
  createRenderer: (mimeType: string) => IRenderMime.IRenderer;
}

const LIVE = 'application/vnd.jupyter.widget-view+json';
const PATIENCE = 700; // ms that a kernel has before the saved widget is shown

export class SavedView extends Panel implements IRenderMime.IRenderer {
  constructor(private readonly renders: Record<string, Render>) {
    super();
    this.addClass('sb-saved');
  }

  renderModel(model: IRenderMime.IMimeModel): Promise<void> {
    this.stop();
    this.model = model;
    this.begin();
    return Promise.resolve();
  }

  override dispose(): void {
    if (!this.isDisposed) {
      this.stop();
      super.dispose();
    }
  }

  protected override onAfterAttach(message: Message): void {
    super.onAfterAttach(message);
    this.begin();
  }

  /** Wait for the live widget, if there can be one, and show the saved one meanwhile. */
  private begin(): void {
    if (!this.model || !this.isAttached || this.stops.length > 0) {
      return;
    }
    const timer = window.setTimeout(
      () => {
        this.look(true);
      },
      this.goLive(this.model) ? PATIENCE : 0
    );
    this.stops.push(
      counted(() => {
        window.clearTimeout(timer);
      })
    );
  }

  /** Let the host's own renderer look for the kernel's widget. */
  private goLive(model: IRenderMime.IMimeModel): boolean {
    const registry = registryAbove(this);
    if (!model.trusted || !(LIVE in model.data) || !registry?.mimeTypes.includes(LIVE)) {
      return false;
    }
    const live = registry.createRenderer(LIVE);
    live.hide();
    this.addWidget(live);
    this.live = live;
    const observer = new MutationObserver(() => {
      this.look(false);
    });
    observer.observe(live.node, { childList: true });
    this.stops.push(
      counted(() => {
        observer.disconnect();
      })
    );
    void live.renderModel(model);
    return true;
  }

  /** Show the live widget if there is one; the saved one if there is none, and none has to be waited for. */
  private look(now: boolean): void {
    const isAlive = this.live?.node.firstElementChild != null;
    if (isAlive) {
      this.live?.show();
      this.forget();
    } else if ((now || this.live?.isVisible) && !this.saved) {
      this.live?.hide();
      this.saved = this.shown();
      this.addWidget(this.saved);
    }
  }

  private shown(): Widget {
    const widget = new Widget();
    const data = this.model?.data[MIME];
    const render = isSaved(data) ? this.renders[data.widget] : undefined;
    if (isSaved(data) && render) {
      this.undraw = render({ model: savedModel(data), el: widget.node });
    } else {
      widget.node.textContent = 'Saved by another version of spectralbench: run the cell again.';
    }
    return widget;
  }

  private forget(): void {
    this.undraw?.();
    this.undraw = undefined;
    this.saved?.dispose();
    this.saved = undefined;
  }

  private stop(): void {
    for (const stop of this.stops.splice(0)) {
      stop();
    }
    this.forget();
    this.live?.dispose();
    this.live = undefined;
  }

  private readonly stops: Dispose[] = [];
  private model: IRenderMime.IMimeModel | undefined;
  private live: IRenderMime.IRenderer | undefined;
  private saved: Widget | undefined;
  private undraw: Dispose | undefined;
}

/** The registry of the notebook in which a widget lies: only that one knows the notebook's kernel. */
function registryAbove(widget: Widget): Registry | undefined {
  for (let at: Widget | null = widget; at; at = at.parent) {
    const found = (at as { rendermime?: Registry }).rendermime;
    if (found) {
      return found;
    }
  }
  return undefined;
}
