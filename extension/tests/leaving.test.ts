/** What leaves the page: table and picture. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { colourOf, dashOf } from '../src/model/palette.js';
import { svg, type Line } from '../src/model/picture.js';
import { table } from '../src/model/table.js';
import { thinned } from '../src/model/thinning.js';
import { curve } from './invented.js';

const one = curve([300, 301, 302], [1, 2, 3]);
const other = curve([301, 301.5], [7, NaN], { quantity: 'transmittance', label: 'cover, "new"' });

function line(of = one, more: Partial<Line> = {}): Line {
  return { curve: of, name: 'scan <1>', full: 'scan 1', place: 0, width: 1.6, second: false, ...more };
}

test('a table has units in its header, the shown range, and empty cells', () => {
  assert.equal(
    table([one, other], [300.5, 302], { range: 'a\nb' }),
    '# range: a b\nwavelength [nm],counts scan 1 [1],"transmittance cover, ""new"" [1]"\n301,2,7\n301.5,,\n302,3,\n'
  );
  assert.equal(table([], [0, 1], {}), '');
});

test('thinning keeps lowest and highest of every pixel, and gaps', () => {
  const count = 100_000;
  const many = curve(
    Array.from({ length: count }, (_, i) => i),
    Array.from({ length: count }, (_, i) => (i === 54_321 ? 99 : i === 12_345 ? -99 : i === 70_000 ? NaN : 1))
  );
  const points = thinned(many, [0, count], 500);
  assert.ok(points.length <= 2000, String(points.length));
  const heights = points.map(([, y]) => y);
  assert.ok(heights.includes(99) && heights.includes(-99) && heights.some(Number.isNaN));
  assert.ok(points.every(([x], i) => i === 0 || x > (points[i - 1]?.[0] ?? 0)));
});

test('few points stay as they are, with one neighbour on either side of the range', () => {
  assert.deepEqual(thinned(one, [301, 301.5], 100), [
    [300, 1],
    [301, 2],
    [302, 3]
  ]);
});

test('a picture is one SVG with its lines, its words escaped', () => {
  const drawn = svg({
    title: 'a & b',
    lines: [line(), line(other, { second: true, place: 1 })],
    range: [300, 302],
    logarithmic: false,
    across: 'wavelength [nm]',
    up: 'counts',
    upSecond: 'transmittance'
  });
  assert.match(drawn, /^<svg xmlns/);
  assert.match(drawn, /a &amp; b/);
  assert.match(drawn, /scan &lt;1&gt;/);
  assert.match(drawn, new RegExp(`stroke="${colourOf(0, false)}"`));
  assert.match(drawn, /stroke-dasharray="9 2.25"/);
  assert.ok(!drawn.includes('NaN') && !drawn.includes('Infinity'));
});

test('a logarithmic picture draws what has no logarithm below its frame', () => {
  const low = curve([300, 301, 302], [1, -1, 100]);
  const drawn = svg({
    title: '',
    lines: [line(low)],
    range: [300, 302],
    logarithmic: true,
    across: '',
    up: '',
    upSecond: ''
  });
  assert.ok(!drawn.includes('NaN') && !drawn.includes('Infinity'));
});

test('a pair of colour and dash comes back after thirty curves', () => {
  const pairs = Array.from({ length: 30 }, (_, i) => `${colourOf(i, true)} ${dashOf(i).join(' ')}`);
  assert.equal(new Set(pairs).size, 30);
});
