/** A file as a document of JupyterLab. */

import type { IThemeManager } from '@jupyterlab/apputils';
import { ABCWidgetFactory, DocumentWidget, type DocumentRegistry } from '@jupyterlab/docregistry';

import type { Chosen } from './choices.js';
import { SpectrumPanel, type Server } from './panel.js';
import { watched } from './watching.js';

export type SpectrumDocument = DocumentWidget<SpectrumPanel>;

export class SpectrumFactory extends ABCWidgetFactory<SpectrumDocument> {
  constructor(
    options: DocumentRegistry.IWidgetFactoryOptions<SpectrumDocument>,
    private readonly server: Server,
    private readonly themes: IThemeManager | null,
    private readonly chosen: Chosen
  ) {
    super(options);
  }

  protected override createNewWidget(context: DocumentRegistry.Context): SpectrumDocument {
    const content = new SpectrumPanel(this.server, context.path, this.themes, this.chosen);
    const refresh = () => void content.refresh(context.path);
    // JupyterLab says first what it has just read: that is what is shown already
    void context.ready.then(() => {
      if (!content.isDisposed) {
        context.fileChanged.connect(refresh);
        context.pathChanged.connect(refresh);
        const stop = watched(context, this.server.contents, () => {
          content.lose();
        });
        content.disposed.connect(() => {
          stop();
          context.fileChanged.disconnect(refresh);
          context.pathChanged.disconnect(refresh);
        });
      }
    });
    const widget = new DocumentWidget({ content, context });
    widget.toolbar.hide(); // the viewer has its own buttons
    return widget;
  }
}
