/** What leaves the page: pictures, a table, lines of code. */

import { svg, type Picture } from '../model/picture.js';
import type { Range } from '../model/scales.js';
import { table, type Part } from '../model/table.js';
import { code, position } from '../model/text.js';
import { save } from './element.js';

const SHARPER = 2; // pixels of a PNG in one of the SVG

/** The picture as a file that draws itself. */
export function saveSvg(name: string, picture: Picture): void {
  save(`${name}.svg`, new Blob([svg(picture)], { type: 'image/svg+xml' }));
}

/** The same picture in pixels. */
export async function savePng(name: string, picture: Picture): Promise<void> {
  const url = URL.createObjectURL(new Blob([svg(picture)], { type: 'image/svg+xml' }));
  try {
    const image = new Image();
    image.src = url;
    await image.decode();
    const canvas = document.createElement('canvas');
    canvas.width = image.naturalWidth * SHARPER;
    canvas.height = image.naturalHeight * SHARPER;
    canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>(done => {
      canvas.toBlob(done, 'image/png');
    });
    if (blob) {
      save(`${name}.png`, blob);
    }
  } finally {
    URL.revokeObjectURL(url);
  }
}

/** The curves that are shown, in the range that is shown. */
export function saveCsv(name: string, parts: readonly Part[], range: Range): void {
  const units = parts[0]?.curves[0]?.axis.units ?? '';
  const files = parts.map(part => part.name).join(', ');
  const notes = {
    'taken from': files,
    range: `${position(range[0], units)} to ${position(range[1], units)}`
  };
  save(`${name}.shown.csv`, new Blob([table(parts, range, notes)], { type: 'text/csv' }));
}

/** Python lines that read the files, onto the clipboard; what to tell about it. */
export async function copyCode(places: readonly string[]): Promise<string> {
  const lines = code(places);
  try {
    await navigator.clipboard.writeText(lines);
    const count = places.length;
    return `Copied: lines of Python that read ${count === 1 ? 'this file' : `these ${String(count)} files`}.`;
  } catch {
    return `The browser gives no clipboard here. The lines are: ${lines.trim().replaceAll(/\n+/g, '; ')}`;
  }
}
