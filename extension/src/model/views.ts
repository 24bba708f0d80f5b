/** What of a file goes into one picture: curves of one quantity along one axis. */

import type { Axis, Curve, FileRecord, Spectra } from './payload.js';
import { words } from './text.js';

export interface View {
  name: string;
  block: string | null;
  quantity: string;
  units: string;
  axis: Axis;
  curves: Curve[];
  /** Repeated scans, whose mean says something; curves with names of their own are not. */
  repeated: boolean;
}

/** The pictures that a file gives, in its own order. */
export function viewsOf({ curves, records }: Spectra): View[] {
  const found = new Map<string, View>();
  for (const curve of curves) {
    const { block, quantity, units, axis } = curve;
    const key = JSON.stringify([block, quantity, units, axis.name, axis.units, axis.since]);
    const view = found.get(key);
    if (view) {
      view.curves.push(curve);
    } else {
      const title = recordOf(records, block)?.title ?? block;
      const name = words(quantity) + (title === null ? '' : `: ${title}`);
      found.set(key, { name, block, quantity, units, axis, curves: [curve], repeated: false });
    }
  }
  for (const view of found.values()) {
    const labels = recordOf(records, view.block)?.labels;
    const named = labels?.spectrum !== undefined || labels?.channel !== undefined;
    view.repeated = view.curves.length > 1 && !named;
  }
  return [...found.values()];
}

/** What is known of a block, or of the file. */
export function recordOf(records: readonly FileRecord[], block: string | null): FileRecord | undefined {
  return records.find(record => record.block === block) ?? records[0];
}

/** The view of another file that may lie over this one, or why there is none. */
export function overlaid(base: View, spectra: Spectra, second: string | undefined): View | string {
  const views = viewsOf(spectra);
  const along = views.filter(
    view => view.axis.name === base.axis.name && view.axis.units === base.axis.units
  );
  const [first] = along;
  if (!first) {
    const others =
      [...new Set(views.map(view => words(view.axis.name)))].join(', ') || 'nothing that is drawn';
    return `it lies along ${others}, and this chart along ${words(base.axis.name)}`;
  }
  const fits = along.find(view => view.quantity === base.quantity && view.units === base.units);
  const beside = along.find(view => second === undefined || side(view) === second);
  return fits ?? beside ?? `it holds ${along.map(side).join(', ')}, and both vertical axes are taken`;
}

/** What the vertical axis of a view shows: two views with the same may share it. */
export function side({ quantity, units }: Pick<View, 'quantity' | 'units'>): string {
  return words(quantity) + (units === '' ? '' : ` [${units}]`);
}
