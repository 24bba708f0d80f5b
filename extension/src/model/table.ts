/** Curves as a table in text: one row for each place of the axis, units in the header. */

import { firstFrom, type Range } from './scales.js';
import type { Curve } from './payload.js';

/** What is shown, in the range that is shown; a cell is empty where a curve has no sample. */
export function table(curves: readonly Curve[], range: Range, notes: Record<string, string>): string {
  const [first] = curves;
  if (!first) {
    return '';
  }
  const places = [...new Set(curves.flatMap(curve => inRange(curve.x, range)))].sort((a, b) => a - b);
  const next = curves.map(curve => firstFrom(curve.x, range[0]));
  const rows = places.map(place => {
    const cells = curves.map((curve, i) => {
      const at = next[i] ?? 0;
      if (curve.x[at] !== place) {
        return '';
      }
      next[i] = at + 1;
      const value = curve.y[at] ?? NaN;
      return Number.isFinite(value) ? String(Number(value.toPrecision(8))) : '';
    });
    return [String(Number(place.toPrecision(12))), ...cells].join(',');
  });
  const said = Object.entries(notes).map(([key, value]) => `# ${key}: ${value.replace(/\s+/g, ' ')}`);
  const heading = [
    `${first.axis.name} [${first.axis.units || '1'}]`,
    ...curves.map(({ quantity, label, units }) => {
      const name = label === quantity ? quantity : `${quantity} ${label}`;
      return `${name} [${units || '1'}]`;
    })
  ];
  return [...said, heading.map(cell).join(','), ...rows, ''].join('\n');
}

function inRange(x: Float64Array, [low, high]: Range): number[] {
  const found: number[] = [];
  for (let i = firstFrom(x, low); i < x.length && (x[i] ?? Infinity) <= high; i++) {
    found.push(x[i] ?? NaN);
  }
  return found;
}

function cell(text: string): string {
  return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
