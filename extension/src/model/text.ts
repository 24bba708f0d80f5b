/** Words and numbers as they are shown. */

import type { Axis, FileRecord } from './payload.js';

const DIGITS = 5;
const MOST = 4; // curves that a cursor reads
const SUPERSCRIPTS = '⁰¹²³⁴⁵⁶⁷⁸⁹';

/** A name of the package's own in words. */
export function words(name: string): string {
  return name.replaceAll('_', ' ');
}

/** A number to five digits, with a proper minus and powers of ten. */
export function number(value: number): string {
  if (!Number.isFinite(value)) {
    return 'not valid';
  }
  const size = Math.abs(value);
  if (size !== 0 && (size < 1e-3 || size >= 1e6)) {
    const [digits, power] = Number(value.toPrecision(DIGITS)).toExponential().split('e');
    return `${minus(digits ?? '')} × 10${superscript(Number(power))}`;
  }
  return minus(String(Number(value.toPrecision(DIGITS))));
}

/** Numbers beside the ticks of an axis, with as many decimals as tell one from the next. */
export function tickLabels(values: readonly number[]): string[] {
  const [first = 0, second = first] = values;
  const step = Math.abs(second - first);
  const most = Math.max(...values.map(Math.abs));
  const decimals = [0, 1, 2, 3, 4, 5, 6].find(count => isWhole(step * 10 ** count));
  if (values.length < 2 || decimals === undefined || most >= 1e6) {
    return values.map(number);
  }
  return values.map(value => minus(value.toFixed(decimals)));
}

/** A value on an axis, as fine as a reader of spectra speaks of it. */
export function position(value: number, units: string): string {
  return units === 'nm' ? `${value.toFixed(2)} nm` : withUnits(number(value), units);
}

export function withUnits(text: string, units: string): string {
  return units === '' || units === '1' ? text : `${text} ${units}`;
}

/** What an axis shows, with its unit in brackets. */
export function axisLabel(name: string, units: string, since?: string): string {
  const start = since === undefined ? '' : ` since ${since.replace('T', ' ')}`;
  return words(name) + start + (units === '' || units === '1' ? '' : ` [${units}]`);
}

export interface Reading {
  name: string;
  value: number;
  units: string;
}

/** What the cursor reads of the curves that are shown: the first few, and how many more there are. */
export function readOut(at: number, axis: Axis, readings: readonly Reading[], all: number): string {
  const few = readings.slice(0, MOST);
  const parts = few.map(({ name, value, units }) => `${name}: ${withUnits(number(value), units)}`);
  const more = all > few.length ? [`and ${String(all - few.length)} more`] : [];
  return [position(at, axis.units), ...parts, ...more].join(' · ');
}

/** Python lines that read a file, or several; their places begin with a tilde where the server says no more of its own. */
export function code(paths: readonly string[]): string {
  const quoted = paths.map(path => `"${path.replaceAll('\\', '\\\\').replaceAll('"', '\\"')}"`);
  const isAtHome = paths.some(path => path.startsWith('~'));
  const [home, file] = isAtHome ? ['from pathlib import Path\n\n', 'Path(file).expanduser()'] : ['', 'file'];
  const [first = '""'] = quoted;
  const one = isAtHome ? `Path(${first}).expanduser()` : first;
  const reading =
    quoted.length > 1
      ? `files = [\n${quoted.map(path => `    ${path},\n`).join('')}]\ndata = [sb.read(${file}) for file in files]`
      : `data = sb.read(${one})`;
  return `${home}import spectralbench as sb\n\n${reading}\n`;
}

/** Where a file lies on the disk, if the server says where its root is. */
export function placeOn(root: string, path: string): string {
  return root === '' ? path : `${root.replace(/[\\/]+$/, '')}/${path.replace(/^\/+/, '')}`;
}

/** What somebody who does not see a chart is told of it. */
export function told(record: FileRecord | undefined, quantity: string, count: number, span: string): string {
  const figures = record?.quantities.find(one => one.quantity === quantity)?.figures;
  const peak = figures?.peak_wavelength;
  return [
    `${record?.file ?? 'File'}: ${words(quantity)}`,
    count === 1 ? 'one curve' : `${String(count)} curves`,
    span,
    ...(peak ? [`peak at ${peak.text}`] : [])
  ].join(', ');
}

function isWhole(value: number): boolean {
  return Math.round(value) > 0 && Math.abs(value - Math.round(value)) < 1e-3 * value;
}

function minus(digits: string): string {
  return digits.replace('-', '−');
}

function superscript(power: number): string {
  const digits = Array.from(String(Math.abs(power)), digit => SUPERSCRIPTS[Number(digit)] ?? '').join('');
  return (power < 0 ? '⁻' : '') + digits;
}
