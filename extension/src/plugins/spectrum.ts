/** Registers the viewer of files that hold spectra, logs and beam profiles. */

import { ILayoutRestorer, type JupyterFrontEnd, type JupyterFrontEndPlugin } from '@jupyterlab/application';
import { IThemeManager, WidgetTracker } from '@jupyterlab/apputils';
import { PageConfig } from '@jupyterlab/coreutils';
import { ISettingRegistry } from '@jupyterlab/settingregistry';

import { Chosen } from '../lab/choices.js';
import { SpectrumFactory, type SpectrumDocument } from '../lab/document.js';
import { icon } from '../lab/icon.js';
import { listening } from '../view/listening.js';

const FACTORY = 'Spectrum';
const UNMISTAKABLE = 'spectrum';
const TABLE = 'table-of-an-instrument';

/** The settings of this name stand in `schema/spectrum.json`. */
const PLUGIN = 'spectralbench:spectrum';

export const spectrum: JupyterFrontEndPlugin<void> = {
  id: PLUGIN,
  description: 'Shows a raw file of a spectrometer or radiometer with its figures.',
  autoStart: true,
  optional: [IThemeManager, ILayoutRestorer, ISettingRegistry],
  activate: (
    app: JupyterFrontEnd,
    themes: IThemeManager | null,
    restorer: ILayoutRestorer | null,
    settings: ISettingRegistry | null
  ) => {
    const { docRegistry, serviceManager, commands } = app;
    docRegistry.addFileType({
      name: UNMISTAKABLE,
      displayName: 'Spectrum',
      extensions: ['.spectrum.csv', '.jdx', '.dx', '.jcm', '.spdx'],
      fileFormat: 'base64',
      contentType: 'file',
      icon
    });
    docRegistry.addFileType({
      name: TABLE,
      displayName: 'Table of an instrument',
      extensions: ['.dat', '.asc', '.gz'],
      fileFormat: 'base64',
      contentType: 'file',
      icon
    });
    const factory = new SpectrumFactory(
      {
        name: FACTORY,
        modelName: 'base64',
        fileTypes: [UNMISTAKABLE, TABLE, 'csv', 'tsv', 'text'],
        defaultFor: [UNMISTAKABLE],
        readOnly: true
      },
      {
        contents: serviceManager.contents,
        settings: serviceManager.serverSettings,
        root: PageConfig.getOption('serverRoot')
      },
      themes,
      new Chosen(settings, PLUGIN)
    );
    docRegistry.addWidgetFactory(factory);
    const tracker = new WidgetTracker<SpectrumDocument>({ namespace: 'spectralbench-spectrum' });
    if (restorer) {
      void restorer.restore(tracker, {
        command: 'docmanager:open',
        args: widget => ({ path: widget.context.path, factory: FACTORY }),
        name: widget => widget.context.path
      });
    }
    factory.widgetCreated.connect((_, widget) => {
      widget.context.pathChanged.connect(() => void tracker.save(widget));
      void tracker.add(widget);
    });
    commands.addCommand('spectralbench:listening', {
      label: 'Count what listens in open spectra',
      describedBy: { args: {} },
      isVisible: () => false,
      execute: listening
    });
  }
};
