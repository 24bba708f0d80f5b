/** A Lumino widget that looks up a function, and puts it into a notebook. */

import type { JupyterFrontEnd } from '@jupyterlab/application';
import type { ServerConnection } from '@jupyterlab/services';
import type { Message } from '@lumino/messaging';
import { Widget } from '@lumino/widgets';

import { request } from '../api.js';
import { onItsOwnLine, type PublicName } from '../model/names.js';
import { namesIn, type Names } from '../view/finder.js';
import { icon } from './icon.js';

const INSERT = 'notebook:replace-selection';
const BELOW = 'notebook:insert-cell-below';

interface ActiveCell {
  model?: { type?: string };
  ready?: Promise<void>;
  editor?: {
    getSelection: () => Record<'start' | 'end', { line: number; column: number }>;
    getLine: (line: number) => string | undefined;
  } | null;
}

export class NamesPanel extends Widget {
  constructor(
    private readonly app: JupyterFrontEnd,
    private readonly settings: ServerConnection.ISettings
  ) {
    super();
    this.id = 'spectralbench-names';
    this.addClass('sb-finder');
    this.title.icon = icon;
    this.title.caption = 'Functions of spectralbench';
    this.title.closable = true;
    this.node.setAttribute('role', 'region');
    this.node.setAttribute('aria-label', 'Functions of spectralbench');
    this.view = namesIn(this.node, one => this.take(one));
  }

  /** Search for something, or for what was searched for last. */
  search(query: string | undefined): void {
    this.view.search(query);
    void this.load();
  }

  override dispose(): void {
    if (!this.isDisposed) {
      this.view.dispose();
      super.dispose();
    }
  }

  protected override onActivateRequest(message: Message): void {
    super.onActivateRequest(message);
    this.view.focus();
  }

  protected override onCloseRequest(message: Message): void {
    super.onCloseRequest(message);
    this.dispose();
  }

  /** Ask for the names, unless they are there or on their way. */
  private async load(): Promise<void> {
    if (this.asked) {
      return;
    }
    this.asked = true;
    try {
      const answer = await request('names', {}, this.settings);
      const found = (await answer.json()) as PublicName[];
      if (!this.isDisposed) {
        this.view.show(found);
      }
    } catch (error) {
      this.asked = false;
      this.view.refuse(error instanceof Error ? error.message : String(error));
    }
  }

  /** Into the notebook in front, or else onto the clipboard; what to tell about it. */
  private async take({ call }: PublicName): Promise<string> {
    const { commands } = this.app;
    if (commands.hasCommand(INSERT) && commands.isEnabled(INSERT)) {
      if (this.active()?.model?.type !== 'code') {
        await commands.execute(BELOW);
      }
      await this.active()?.ready; // a cell that is new has no editor yet
      await commands.execute(INSERT, { text: onItsOwnLine(call, ...this.around()) });
      return `Put into the notebook: ${call}`;
    }
    try {
      await navigator.clipboard.writeText(call);
      return `No notebook is in front. Copied instead: ${call}`;
    } catch {
      return `No notebook is in front, and the browser gives no clipboard here. The call is: ${call}`;
    }
  }

  /** What stands on the line before the cursor, and after it. */
  private around(): [string, string] {
    const editor = this.active()?.editor;
    if (!editor) {
      return ['', ''];
    }
    const { start, end } = editor.getSelection();
    return [
      (editor.getLine(start.line) ?? '').slice(0, start.column),
      (editor.getLine(end.line) ?? '').slice(end.column)
    ];
  }

  /** The cell in front. */
  private active(): ActiveCell | null | undefined {
    return (this.app.shell.currentWidget as { content?: { activeCell?: ActiveCell | null } } | null)?.content
      ?.activeCell;
  }

  private readonly view: Names;
  private asked = false;
}
