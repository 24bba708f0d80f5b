/** What is known of a file: warnings, format, header, decisions, history. */

import type { FileRecord, Spectra } from '../model/payload.js';
import { element } from './element.js';

const FEW = 3; // warnings that are shown at once

/** Warnings of a file and its blocks, each with a mark; nothing without. */
export function warnings({ records, curves, leftOut }: Spectra): HTMLElement[] {
  const drawn = curves.length;
  const left = `${String(drawn)} of ${String(drawn + leftOut)} curves are drawn; read the file in Python for all`;
  const told = records.flatMap(record => record.warnings);
  const said = [...new Set([...(leftOut > 0 ? [left] : []), ...told])];
  const lines = said.map(text => element('li', {}, text));
  const list = element('ul', { class: 'sb-warnings', 'aria-label': 'Warnings' }, ...lines);
  if (said.length <= FEW) {
    return said.length === 0 ? [] : [list];
  }
  const summary = element('summary', {}, `${String(said.length)} warnings`);
  return [element('details', { class: 'sb-many' }, summary, list)];
}

/** What is known of a file and of its block that is drawn, in sections that open. */
export function details(file: FileRecord | undefined, block: FileRecord | undefined): HTMLElement[] {
  if (!file || !block) {
    return [];
  }
  const one = file === block;
  const header = Object.entries({ ...file.header, ...block.header }).map(
    ([key, value]) => [key, text(value)] as const
  );
  const known: [string, string][] = [
    ['name', file.file],
    ...(one ? [] : [['block', block.title ?? block.block ?? ''] as [string, string]]),
    ['format', file.format ?? 'not known'],
    ['sha256', file.sha256 ?? 'not known']
  ];
  const decisions = one ? file.decisions : [...file.decisions, ...block.decisions];
  const history = one ? file.history : [...file.history, ...block.history];
  return [
    section('File', true, pairs(known)),
    ...(header.length > 0 ? [section('Header', true, pairs(header))] : []),
    ...(decisions.length > 0 ? [section('Decisions of the reader', false, list(decisions))] : []),
    ...(history.length > 0 ? [section('History', false, list(history))] : [])
  ];
}

function section(title: string, open: boolean, content: HTMLElement): HTMLElement {
  return element('details', open ? { open: '' } : {}, element('summary', {}, title), content);
}

function pairs(of: readonly (readonly [string, string])[]): HTMLElement {
  return element(
    'dl',
    {},
    ...of.flatMap(([key, value]) => [element('dt', {}, key), element('dd', {}, value)])
  );
}

function list(of: string[]): HTMLElement {
  return element('ol', {}, ...of.map(one => element('li', {}, one)));
}

function text(value: unknown): string {
  return typeof value === 'string' ? value : JSON.stringify(value);
}
