/** What leaves the page: table and picture. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { colourOf, dashOf } from '../src/model/palette.js';
import { svg, type Line } from '../src/model/picture.js';
import { table, withUncertainties } from '../src/model/table.js';
import { thinned } from '../src/model/thinning.js';
import { curve } from './invented.js';

const one = curve([300, 301, 302], [1, 2, 3]);
const other = curve([301, 301.5], [7, NaN], { quantity: 'transmittance', label: 'cover, "new"' });

function line(of = one, more: Partial<Line> = {}): Line {
  return { curve: of, name: 'scan <1>', full: 'scan 1', place: 0, width: 1.6, second: false, ...more };
}

test('a table has units in its header and the shown range; what has no value is said to be invalid', () => {
  const part = {
    name: 'a.csv',
    header: { title: 'a lamp', 'integration time': '10 ms' },
    curves: [one, other]
  };
  assert.equal(
    table([part], [300.5, 302], { range: 'a\nb' }),
    '# title: a lamp\n# integration time: 10 ms\n# range: a b\n' +
      'wavelength [nm],counts scan 1 [1],"transmittance cover, ""new"" [1]"\n' +
      '301,2,7\n301.5,invalid,invalid\n302,3,invalid\n'
  );
  assert.equal(table([], [0, 1], {}), '');
});

test('columns of several files have the names of their files, and so has what only one of them says', () => {
  const scans = [1, 2].map(i => curve([300], [i], { label: `spectrum ${String(i)}` }));
  const parts = ['a/cover.csv', 'b/cover.csv'].map((name, i) => ({
    name,
    header: { note: 'invented', time: `10:0${String(i)}` },
    curves: scans
  }));
  assert.equal(
    table(parts, [300, 301], {}),
    '# note: invented\n# time of a/cover.csv: 10:00\n# time of b/cover.csv: 10:01\n' +
      'wavelength [nm],counts a/cover.csv: 1 [1],counts a/cover.csv: 2 [1],' +
      'counts b/cover.csv: 1 [1],counts b/cover.csv: 2 [1]\n300,1,2,1,2\n'
  );
});

test('a scan that comes back has a row for each reading', () => {
  const there = curve([1, 2, 2, 3], [5, 6, 7, 8], { axis: { name: 'position', units: 'mm' } });
  const text = table([{ name: '', header: {}, curves: [there] }], [1, 2], {});
  assert.equal(text, 'position [mm],counts scan 1 [1]\n1,5\n2,6\n2,7\n');
});

test('numbers have the digits of single precision, and no others', () => {
  const values = [0.05, 1 / 3, 16777217, 1e-12, 1234.5, -0.1];
  const text = table([{ name: '', header: {}, curves: [curve([1, 2, 3, 4, 5, 6], values)] }], [0, 9], {});
  const cells = text
    .split('\n')
    .slice(1, -1)
    .map(row => row.split(',')[1] ?? '');
  assert.equal(cells[0], '0.05');
  assert.deepEqual(
    cells.map(cell => Math.fround(Number(cell))),
    values.map(Math.fround)
  );
});

test('an uncertainty goes along with what it is of, and moments stay dates', () => {
  const of = { label: 'lamp', quantity: 'irradiance', units: 'mW/cm²' };
  const seconds = { name: 'time', units: 's', since: '2026-03-02T10:30:00' };
  const value = curve([0, 10.5], [1, 2], { ...of, axis: seconds });
  const spread = { ...value, quantity: 'irradiance_standard_uncertainty' };
  const another = { ...value, label: 'other' };
  const curves = withUncertainties([value], [value, another, spread]);
  assert.deepEqual(curves, [value, spread]);
  assert.deepEqual(withUncertainties([spread], [value, spread]), [value, spread]);
  assert.equal(
    table([{ name: '', header: {}, curves }], [0, 20], {}),
    'time,irradiance lamp [mW/cm²],standard uncertainty of irradiance lamp [mW/cm²]\n' +
      '2026-03-02T10:30:00,1,1\n2026-03-02T10:30:10.500,2,2\n'
  );
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
