import assert from 'node:assert/strict';
import { test } from 'node:test';

import { apart } from '../src/model/apart.js';
import { cutAt, refusalOf } from '../src/model/faults.js';
import type { FileRecord, Spectra } from '../src/model/payload.js';
import { axisLabel, code, number, placeOn, position, readOut, tickLabels, told } from '../src/model/text.js';
import { overlaid, viewsOf } from '../src/model/views.js';
import { linesOf } from '../src/view/layers.js';
import { curve } from './invented.js';

const record: FileRecord = {
  file: 'led.csv',
  block: null,
  format: null,
  sha256: null,
  header: {},
  warnings: [],
  decisions: [],
  history: [],
  quantities: [
    { quantity: 'counts', figures: { peak_wavelength: { value: 404.6, units: 'nm', text: '404.60 nm' } } }
  ]
};
const logged = { axis: { name: 'hours', units: 'h' }, quantity: 'relative_output' };

function file(...curves: Spectra['curves']): Spectra {
  return { records: [record], curves, leftOut: 0 };
}

test('numbers keep five digits, and powers of ten stand raised', () => {
  assert.equal(number(1234.5678), '1234.6');
  assert.equal(number(-2.5), '−2.5');
  assert.equal(number(0), '0');
  assert.equal(number(0.000012), '1.2 × 10⁻⁵');
  assert.equal(number(1234567), '1.2346 × 10⁶');
  assert.equal(number(NaN), 'not valid');
});

test('axes say what they show and in which unit', () => {
  assert.equal(axisLabel('wavelength', 'nm'), 'wavelength [nm]');
  assert.equal(axisLabel('relative_output', ''), 'relative output');
  assert.equal(axisLabel('time', 's', '2026-03-02T10:30:00'), 'time since 2026-03-02 10:30:00 [s]');
  assert.equal(position(365, 'nm'), '365.00 nm');
  assert.equal(position(100, 'h'), '100 h');
});

test('the cursor reads four curves and counts the rest', () => {
  const axis = { name: 'wavelength', units: 'nm' };
  const one = { name: 'lamp 1', value: 12.5, units: 'mW/cm²' };
  assert.equal(readOut(365, axis, [one], 1), '365.00 nm · lamp 1: 12.5 mW/cm²');
  const six = Array.from({ length: 6 }, () => one);
  assert.match(readOut(365, axis, six, 6), /and 2 more$/);
  assert.match(readOut(365, axis, [one], 8), /and 7 more$/);
});

test('code reads the file, whatever its name', () => {
  assert.equal(code(['raw/led.csv']), 'import spectralbench as sb\n\ndata = sb.read("raw/led.csv")\n');
  assert.match(code(['a "b"\\c']), /read\("a \\"b\\"\\\\c"\)/);
});

test('code reads all files that are shown, wherever a notebook lies', () => {
  assert.equal(placeOn('/home/a/', 'my-bench/raw/cover.csv'), '/home/a/my-bench/raw/cover.csv');
  assert.equal(placeOn('', 'cover.csv'), 'cover.csv');
  assert.equal(
    code(['/a/one.csv', '/a/two.csv']),
    'import spectralbench as sb\n\nfiles = [\n    "/a/one.csv",\n    "/a/two.csv",\n]\n' +
      'data = [sb.read(file) for file in files]\n'
  );
  assert.equal(
    code(['~/one.csv']),
    'from pathlib import Path\n\nimport spectralbench as sb\n\ndata = sb.read(Path("~/one.csv").expanduser())\n'
  );
});

test('ticks of an axis have as many decimals as tell one from the next', () => {
  assert.deepEqual(tickLabels([577.275, 577.3, 577.325]), ['577.275', '577.300', '577.325']);
  assert.deepEqual(tickLabels([400, 450, 500]), ['400', '450', '500']);
  assert.deepEqual(tickLabels([-0.5, 0, 0.5]), ['−0.5', '0.0', '0.5']);
  assert.deepEqual(tickLabels([577.27501, 577.27502]), ['577.27501', '577.27502']);
  assert.deepEqual(tickLabels([1e-7, 2e-7]), ['1 × 10⁻⁷', '2 × 10⁻⁷']);
  assert.deepEqual(tickLabels([365]), ['365']);
});

test('files of one name are told apart by the folders before it, as few as it takes', () => {
  assert.deepEqual(apart(['a/raw/cover.csv']), ['cover.csv']);
  assert.deepEqual(apart(['my-bench/raw/cover.csv', 'other/raw/cover.csv', 'other/raw/led.csv']), [
    'my-bench/raw/cover.csv',
    'other/raw/cover.csv',
    'led.csv'
  ]);
  assert.deepEqual(apart(['x/a/cover.csv', 'x/b/cover.csv', 'cover.csv']), [
    'a/cover.csv',
    'b/cover.csv',
    'cover.csv'
  ]);
});

test('lines of files of one name have names of their own', () => {
  const [view] = viewsOf(file(curve([1], [1]), curve([1], [2], { label: 'scan 2' })));
  assert.ok(view);
  const layers = ['a/raw/cover.csv', 'b/raw/cover.csv'].map(path => ({
    source: { path, name: 'cover.csv', place: path, ask: () => Promise.reject(new Error()) },
    spectra: file(...view.curves),
    view
  }));
  const names = linesOf(layers).map(line => line.name);
  assert.deepEqual([...new Set(names)], ['a/raw/cover.csv, 2 scans', 'b/raw/cover.csv, 2 scans']);
});

test('lamps and channels of a log are told apart, and are no repeated scans', () => {
  const lamps = { ...record, labels: { channel: ['lamp 1', 'lamp 2'] } };
  const curves = ['lamp 1', 'lamp 2'].map(label => curve([1], [1], { ...logged, label }));
  const [view] = viewsOf({ records: [lamps], curves, leftOut: 0 });
  assert.ok(view);
  assert.equal(view.repeated, false);
  const source = { path: 'log.csv', name: 'log.csv', place: '', ask: () => Promise.reject(new Error()) };
  const lines = linesOf([{ source, spectra: { records: [lamps], curves, leftOut: 0 }, view }]);
  assert.deepEqual(
    lines.map(line => [line.name, line.place]),
    [
      ['lamp 1', 0],
      ['lamp 2', 1]
    ]
  );
});

test('a chart is told with source, range and peak', () => {
  assert.equal(
    told(record, 'counts', 8, '248.00 nm to 752.00 nm'),
    'led.csv: counts, 8 curves, 248.00 nm to 752.00 nm, peak at 404.60 nm'
  );
});

test('curves of one quantity along one axis share a view', () => {
  const views = viewsOf(file(curve([1], [1]), curve([1], [2], { label: 'scan 2' }), curve([1], [1], logged)));
  assert.deepEqual(
    views.map(view => [view.name, view.curves.length, view.repeated]),
    [
      ['counts', 2, true],
      ['relative output', 1, false]
    ]
  );
});

test('curves with names of their own are no repeated scans', () => {
  const named = { ...record, labels: { spectrum: ['lamp 1', 'lamp 2'] } };
  const [view] = viewsOf({ records: [named], curves: [curve([1], [1]), curve([1], [2])], leftOut: 0 });
  assert.equal(view?.repeated, false);
});

test('only a file along the same axis is laid over, and only two vertical axes are had', () => {
  const [base] = viewsOf(file(curve([1], [1])));
  assert.ok(base);
  assert.match(
    overlaid(base, file(curve([1], [1], logged)), undefined) as string,
    /it lies along hours, .* wavelength/
  );
  const other = file(curve([1], [1], { quantity: 'transmittance' }));
  assert.equal(typeof overlaid(base, other, undefined), 'object');
  assert.equal(typeof overlaid(base, other, 'transmittance'), 'object');
  assert.match(
    overlaid(base, other, 'absorbance') as string,
    /holds transmittance, and both vertical axes are taken/
  );
});

test('a refusal is read from JSON, or says the status', () => {
  assert.equal(refusalOf('{"message": "no"}', 400).message, 'no');
  assert.equal(refusalOf('<html>', 502).message, 'the server answered with 502');
  assert.equal(refusalOf('null', 500).message, 'the server answered with 500');
});

test('a fault is marked in its field', () => {
  const fault = { line: 3, column: 2, found: '"abc"', expected: 'a number', advice: null };
  assert.deepEqual(cutAt('abc,abc,1', fault), ['abc,', 'abc', ',1']);
  assert.deepEqual(cutAt('1; abc;2', fault), ['1; ', 'abc', ';2']);
  assert.deepEqual(cutAt('x abc', { ...fault, column: null }), ['x ', 'abc', '']);
  assert.deepEqual(cutAt('nothing like it', fault), ['', 'nothing like it', '']);
});
