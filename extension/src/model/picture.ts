/** A chart as SVG on white, drawn from the same scales as on the screen. */

import { colourOf, dashOf } from './palette.js';
import type { Curve } from './payload.js';
import { decades, heightRange, share, ticks, type Range } from './scales.js';
import { number, tickLabels } from './text.js';
import { thinned } from './thinning.js';

export interface Line {
  curve: Curve;
  /** In the legend; lines of one name share an entry. */
  name: string;
  /** Of this line alone. */
  full: string;
  place: number;
  width: number;
  /** On the vertical axis at the right. */
  second: boolean;
}

export interface Picture {
  title: string;
  lines: Line[];
  range: Range;
  logarithmic: boolean;
  across: string;
  up: string;
  upSecond: string;
}

const [WIDTH, HEIGHT] = [900, 520];
const INK = '#1d2430';
const GRID = '#dfe2e8';
const LINE = 18; // height of a line of the legend
const LISTED = 12;

/** The element `svg` as text. */
export function svg(picture: Picture): string {
  const { lines, range, logarithmic } = picture;
  const entries = [...new Map(lines.map(line => [line.name, line])).values()];
  const listed = entries.slice(0, LISTED);
  const top = 44 + LINE * Math.ceil(listed.length / 3) + (entries.length > LISTED ? LINE : 0);
  const box = {
    left: 76,
    right: lines.some(line => line.second) ? WIDTH - 76 : WIDTH - 20,
    top,
    foot: HEIGHT - 50
  };
  const x = (value: number) => round(box.left + share(value, range, false) * (box.right - box.left));
  const scaleOf = (second: boolean) => {
    const curves = lines.filter(line => line.second === second).map(line => line.curve);
    const height = heightRange(curves, range, logarithmic);
    const y = (value: number) => round(box.foot - share(value, height, logarithmic) * (box.foot - box.top));
    return { y, marks: logarithmic ? decades(height) : ticks(height, 6) };
  };
  const across = ticks(range, 8);
  const labels = tickLabels(across);
  const [first, second] = [scaleOf(false), scaleOf(true)];
  const parts = [
    `<rect width="${String(WIDTH)}" height="${String(HEIGHT)}" fill="#ffffff"/>`,
    text(16, 26, picture.title, 'font-size="16" font-weight="600"'),
    ...legend(listed, entries.length),
    ...across.flatMap((value, i) => [
      stroke(`M${x(value)} ${String(box.top)}V${String(box.foot)}`, GRID, 1),
      text(Number(x(value)), box.foot + 18, labels[i] ?? '', 'text-anchor="middle"')
    ]),
    ...first.marks.flatMap(value => [
      stroke(`M${String(box.left)} ${first.y(value)}H${String(box.right)}`, GRID, 1),
      text(box.left - 8, Number(first.y(value)) + 4, number(value), 'text-anchor="end"')
    ]),
    ...(lines.some(line => line.second) ? second.marks : []).map(value =>
      text(box.right + 8, Number(second.y(value)) + 4, number(value), '')
    ),
    `<clipPath id="inside"><path d="M${String(box.left)} ${String(box.top)}H${String(box.right)}V${String(box.foot)}H${String(box.left)}Z"/></clipPath>`,
    '<g clip-path="url(#inside)">',
    ...lines.map(line => {
      const y = line.second ? second.y : first.y;
      const path = pathOf(thinned(line.curve, range, box.right - box.left), x, y);
      return stroke(path, colourOf(line.place, false), line.width, dashOf(line.place));
    }),
    '</g>',
    stroke(`M${String(box.left)} ${String(box.top)}V${String(box.foot)}H${String(box.right)}`, INK, 1),
    text((box.left + box.right) / 2, HEIGHT - 12, picture.across, 'text-anchor="middle"'),
    sideways(18, (box.top + box.foot) / 2, picture.up),
    ...(picture.upSecond === '' ? [] : [sideways(WIDTH - 8, (box.top + box.foot) / 2, picture.upSecond)])
  ];
  const size = `${String(WIDTH)} ${String(HEIGHT)}`;
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${size}" width="${String(WIDTH)}" height="${String(HEIGHT)}" ` +
    `role="img" font-family="system-ui, sans-serif" font-size="12" fill="${INK}">` +
    `<title>${escaped(picture.title)}</title>${parts.join('\n')}</svg>\n`
  );
}

function legend(lines: readonly Line[], all: number): string[] {
  const column = (WIDTH - 32) / 3;
  const parts = lines.flatMap(({ name, place, width }, i) => {
    const left = 16 + (i % 3) * column;
    const y = 46 + Math.floor(i / 3) * LINE;
    const shown = name.length > 34 ? `${name.slice(0, 33)}…` : name;
    const sample = `M${round(left)} ${String(y - 4)}h30`;
    return [
      stroke(sample, colourOf(place, false), Math.max(width, 1.5), dashOf(place)),
      text(left + 38, y, shown, '')
    ];
  });
  const more = `and ${String(all - LISTED)} more`;
  return all > LISTED ? [...parts, text(54, 46 + Math.ceil(LISTED / 3) * LINE, more, '')] : parts;
}

function pathOf(points: [number, number][], x: (v: number) => string, y: (v: number) => string): string {
  let path = '';
  let pen = 'M';
  for (const [across, up] of points) {
    if (Number.isNaN(up)) {
      pen = 'M';
      continue;
    }
    path += `${pen}${x(across)} ${y(up)}`;
    pen = 'L';
  }
  return path;
}

function stroke(path: string, colour: string, width: number, dash: number[] = []): string {
  const dashes = dash.length > 0 ? ` stroke-dasharray="${dash.join(' ')}"` : '';
  return `<path d="${path}" fill="none" stroke="${colour}" stroke-width="${String(width)}"${dashes} stroke-linejoin="round"/>`;
}

function text(x: number, y: number, words: string, how: string): string {
  return `<text x="${round(x)}" y="${round(y)}" ${how}>${escaped(words)}</text>`;
}

function sideways(x: number, y: number, words: string): string {
  return text(x, y, words, `text-anchor="middle" transform="rotate(-90 ${round(x)} ${round(y)})"`);
}

function round(value: number): string {
  return String(Number(value.toFixed(1)));
}

function escaped(words: string): string {
  return words
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;');
}
