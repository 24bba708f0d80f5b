/** Files that lie over one another in a chart, and the lines that come of them. */

import { apart } from '../model/apart.js';
import type { Line } from '../model/picture.js';
import type { Curve, Spectra } from '../model/payload.js';
import { nearest } from '../model/scales.js';
import { withUncertainties, type Part } from '../model/table.js';
import { readOut, words } from '../model/text.js';
import { overlaid, recordOf, side, type View } from '../model/views.js';
import type { Answer } from './figures.js';

export interface Source {
  /** Of the file, as the server knows it. */
  path: string;
  name: string;
  /** Where it lies on the disk, as far as the server says. */
  place: string;
  /** Figures of a view's curves in a band. */
  ask: (view: View, low: number, high: number) => Promise<Answer>;
}

export interface Layer {
  source: Source;
  spectra: Spectra;
  view: View;
}

const [THIN, THICK] = [0.8, 1.6]; // px

/** What each file is called beside the others. */
export function namesOf(layers: readonly Layer[]): string[] {
  return apart(layers.map(layer => layer.source.path));
}

/** What of each file leaves as a table: the curves that are shown, with their uncertainties. */
export function partsOf(layers: readonly Layer[], hidden: ReadonlySet<Curve>): Part[] {
  const names = namesOf(layers);
  const parts = layers.map(({ spectra: { records, curves }, view }, i) => ({
    name: names[i] ?? '',
    header: { ...records[0]?.header, ...recordOf(records, view.block)?.header },
    curves: withUncertainties(
      view.curves.filter(curve => !hidden.has(curve)),
      curves
    )
  }));
  return parts.filter(part => part.curves.length > 0);
}

/** Lines in turn, repeated scans of a file all alike; what has another quantity or unit than the first file goes to the second axis. */
export function linesOf(layers: readonly Layer[]): Line[] {
  const [base] = layers;
  const names = namesOf(layers);
  let next = 0;
  return layers.flatMap(({ view }, at) => {
    const file = names[at] ?? '';
    const { curves, repeated } = view;
    const several = layers.length > 1;
    const first = next;
    next += repeated ? 1 : curves.length;
    return curves.map((curve, i) => {
      const label = words(curve.label);
      const unnamed = curves.length === 1 && curve.label === curve.quantity;
      const full = !several ? label : unnamed ? file : `${file}: ${label}`;
      return {
        curve,
        full,
        name: several && repeated ? `${file}, ${String(curves.length)} scans` : full,
        place: repeated ? first : first + i,
        width: repeated && view.quantity === 'counts' ? THIN : THICK,
        second: base !== undefined && side(view) !== side(base.view)
      };
    });
  });
}

/** What the second vertical axis shows, if there is one. */
export function secondSide(layers: readonly Layer[]): string | undefined {
  const sides = layers.map(layer => side(layer.view));
  return sides.find(one => one !== sides[0]);
}

/** A file anew, and what lay over it, read anew by its path or not, as far as it still fits. */
export function relaid(
  base: Layer,
  before: readonly Layer[],
  fresh?: ReadonlyMap<string, Spectra>
): [Layer, ...Layer[]] {
  const layers: [Layer, ...Layer[]] = [base];
  for (const layer of before) {
    const spectra = fresh?.get(layer.source.path) ?? layer.spectra;
    const view = overlaid(base.view, spectra, secondSide(layers));
    if (typeof view === 'object') {
      layers.push({ ...layer, spectra, view });
    }
  }
  return layers;
}

/** What a cursor reads there, one value for each name; nothing without a place or a line. */
export function readAt(shown: readonly Line[], at: number | null): string | undefined {
  const [first] = shown;
  const x = at === null ? undefined : first?.curve.x[nearest(first.curve.x, at)];
  if (!first || x === undefined) {
    return undefined;
  }
  const entries = shown.filter((line, i) => shown.findIndex(one => one.name === line.name) === i);
  const readings = entries.map(({ full, curve: { x: along, y, units } }) => {
    return { name: full, value: y[nearest(along, x)] ?? NaN, units };
  });
  return readOut(x, first.curve.axis, readings, shown.length);
}
