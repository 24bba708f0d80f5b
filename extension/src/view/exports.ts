/** What leaves the page: pictures, a table, lines of code. */

import { svg, type Line, type Picture } from '../model/picture.js';
import type { Range } from '../model/scales.js';
import { table } from '../model/table.js';
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
export function saveCsv(name: string, lines: readonly Line[], range: Range): void {
  const units = lines[0]?.curve.axis.units ?? '';
  const notes = { 'taken from': name, range: `${position(range[0], units)} to ${position(range[1], units)}` };
  const text = table(
    lines.map(line => line.curve),
    range,
    notes
  );
  save(`${name}.shown.csv`, new Blob([text], { type: 'text/csv' }));
}

/** Python lines that read the file, onto the clipboard; what to tell about it. */
export async function copyCode(path: string): Promise<string> {
  try {
    await navigator.clipboard.writeText(code(path));
    return 'Copied: two lines of Python that read this file.';
  } catch {
    return `The browser gives no clipboard here. The lines are: ${code(path).trim().replaceAll(/\n+/g, '; ')}`;
  }
}
