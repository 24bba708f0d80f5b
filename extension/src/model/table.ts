/** Curves as a table in text, which the package reads again: one row for each place of the axis, units in the header. */

import type { Axis, Curve } from './payload.js';
import { firstFrom, type Range } from './scales.js';
import { words } from './text.js';

/** What of one file goes into a table. */
export interface Part {
  /** What tells it from the other files. */
  name: string;
  /** What the file says of itself. */
  header: Record<string, unknown>;
  curves: readonly Curve[];
}

const UNCERTAINTY = '_standard_uncertainty';
const INVALID = 'invalid'; // the package's own word for what has no value
const [FEWEST, MOST] = [6, 9]; // digits that single precision holds, and that tell any two of its numbers apart

/** What is shown, in the range that is shown; where a curve has no sample, a cell says that there is none. */
export function table(parts: readonly Part[], range: Range, notes: Record<string, string>): string {
  const curves = parts.flatMap(part => part.curves);
  const [first] = curves;
  if (!first) {
    return '';
  }
  const next = curves.map(curve => firstFrom(curve.x, range[0]));
  const rows: string[] = [];
  for (;;) {
    const place = Math.min(...curves.map(({ x }, i) => x[next[i] ?? 0] ?? Infinity));
    if (place > range[1] || place === Infinity) {
      break;
    }
    const cells = curves.map(({ x, y }, i) => {
      const at = next[i] ?? 0;
      if (x[at] !== place) {
        return INVALID;
      }
      next[i] = at + 1; // the next row has the next sample, if need be at the same place
      return shortest(y[at] ?? NaN);
    });
    rows.push([placed(place, first.axis), ...cells].join(','));
  }
  const several = parts.length > 1;
  const headings = parts.flatMap(({ name, curves: own }) =>
    own.map(curve => titled(curve, several ? name : ''))
  );
  const { name, units, since } = first.axis;
  const along = since === undefined ? `${words(name)} [${units || '1'}]` : words(name);
  return [...said(parts, notes), [along, ...headings].map(cell).join(','), ...rows, ''].join('\n');
}

/** Curves of a view that are shown, each with its uncertainty, or with what it is the uncertainty of. */
export function withUncertainties(shown: readonly Curve[], all: readonly Curve[]): Curve[] {
  const family = ({ block, axis, quantity, label }: Curve) =>
    JSON.stringify([block, axis.name, quantity.replace(UNCERTAINTY, ''), label === quantity ? '' : label]);
  const wanted = new Set(shown.map(family));
  return all.filter(curve => wanted.has(family(curve)));
}

/** As few digits as give the same number in single precision. */
function shortest(value: number): string {
  if (!Number.isFinite(value)) {
    return INVALID;
  }
  for (let digits = FEWEST; digits < MOST; digits++) {
    const rounded = Number(value.toPrecision(digits));
    if (Math.fround(rounded) === value) {
      return String(rounded);
    }
  }
  return String(Number(value.toPrecision(MOST)));
}

/** A place on the axis; a moment as a date. */
function placed(place: number, { since }: Axis): string {
  return since === undefined
    ? String(Number(place.toPrecision(12)))
    : new Date(Date.parse(`${since}Z`) + Math.round(place * 1000)).toISOString().replace(/(\.000)?Z$/, '');
}

function titled({ quantity, label, units }: Curve, file: string): string {
  const own = quantity.replace(UNCERTAINTY, '');
  const one = label === quantity ? '' : label.replace(/^spectrum (?=\d+$)/, '');
  const named = [file, one].filter(Boolean).join(': ');
  const what = (own === quantity ? '' : 'standard uncertainty of ') + words(own);
  return `${what}${named && ' '}${named} [${units || '1'}]`;
}

/** What all files say alike stands once, for the package to read; the rest with the name of its file. */
function said(parts: readonly Part[], notes: Record<string, string>): string[] {
  const lines = new Map<string, string>();
  for (const { name, header } of parts) {
    for (const [key, value] of Object.entries(header)) {
      const isCommon = parts.every(part => text(part.header[key]) === text(value));
      lines.set(isCommon ? key : `${key} of ${name}`, text(value));
    }
  }
  for (const [key, value] of Object.entries(notes)) {
    lines.set(key, value);
  }
  return [...lines].flatMap(([key, value]) => {
    const [plain, told] = [key.replaceAll(/[:=;,"\s]+/g, ' ').trim(), value.replaceAll(/\s+/g, ' ').trim()];
    return told === '' ? [] : [`# ${plain}: ${told}`];
  });
}

function text(value: unknown): string {
  return typeof value === 'string' ? value : value === undefined ? '' : JSON.stringify(value);
}

function cell(text: string): string {
  return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
