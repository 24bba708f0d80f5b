/** Golden payloads, which pytest writes, say here what xarray says of the same data. */

import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { test } from 'node:test';

import { spectraOf } from '../src/model/payload.js';
import { viewsOf } from '../src/model/views.js';

const FOLDER = '../tests/payloads';

interface Fact {
  quantity: string;
  units: string;
  axis: string;
  x: number[];
  y: (number | null)[];
}

const facts = JSON.parse(readFileSync(`${FOLDER}/facts.json`, 'utf-8')) as Record<string, Fact[]>;

function bytes(name: string): ArrayBuffer {
  const read = readFileSync(`${FOLDER}/${name}.bin`);
  return read.buffer.slice(read.byteOffset, read.byteOffset + read.byteLength);
}

test('every payload has its facts', () => {
  const found = readdirSync(FOLDER).filter(name => name.endsWith('.bin'));
  assert.deepEqual(found.map(name => name.replace('.bin', '')).sort(), Object.keys(facts).sort());
});

for (const [name, expected] of Object.entries(facts)) {
  test(`${name}: curves are those of the dataset`, () => {
    const { curves, records, leftOut } = spectraOf(bytes(name));
    assert.equal(leftOut, 0);
    assert.ok(records.length > 0);
    assert.equal(curves.length, expected.length);
    curves.forEach((curve, i) => {
      const fact = expected[i];
      assert.ok(fact);
      assert.equal(curve.quantity, fact.quantity);
      assert.equal(curve.units, fact.units);
      assert.equal(curve.axis.name, fact.axis);
      assert.equal(curve.x.length, fact.x.length);
      fact.x.forEach((value, k) => {
        assert.ok(
          Math.abs((curve.x[k] ?? NaN) - value) <= 5e-5,
          `${String(curve.x[k])} for ${String(value)}`
        );
      });
      fact.y.forEach((value, k) => {
        const found = curve.y[k] ?? NaN;
        assert.ok(value === null ? Number.isNaN(found) : found === Math.fround(value) || close(found, value));
      });
    });
  });
}

/** Single precision keeps 24 bits. */
function close(found: number, expected: number): boolean {
  return Math.abs(found - expected) <= Math.abs(expected) * 2 ** -23;
}

test('lamps and channels of a log are no repeated scans', () => {
  for (const name of ['hours_log_csv', 'radiometer_log_csv']) {
    const [view] = viewsOf(spectraOf(bytes(name)));
    assert.deepEqual([view?.curves.length, view?.repeated], [2, false], name);
  }
  assert.equal(viewsOf(spectraOf(bytes('side_by_side_csv')))[0]?.curves.length, 2);
});

test('curves on one grid share it', () => {
  const [first, second] = spectraOf(bytes('side_by_side_csv')).curves;
  assert.ok(first && first.x === second?.x);
});

test('what is no payload is refused in words', () => {
  assert.throws(() => spectraOf(new TextEncoder().encode('<html>').buffer), /begins with "SBP1", not "<htm"/);
  assert.throws(
    () => spectraOf(new TextEncoder().encode('SBP1').buffer),
    /ends within its header, after 4 bytes/
  );
});

test('a payload that was cut off is refused in words', () => {
  const whole = bytes('side_by_side_csv');
  assert.throws(() => spectraOf(whole.slice(0, 40)), /ends within its header/);
  assert.throws(() => spectraOf(whole.slice(0, whole.byteLength - 8)), /ends within its array y1/);
});

test('another version is refused, with what to do', () => {
  const changed = Buffer.from(bytes('side_by_side_csv'));
  const at = changed.indexOf('"version": 1') + 11;
  changed[at] = '2'.charCodeAt(0);
  const data = changed.buffer.slice(changed.byteOffset, changed.byteOffset + changed.byteLength);
  assert.throws(() => spectraOf(data), /in version 2, .* in version 1: reload the page/);
});

test('an axis that goes down is turned round with its values', () => {
  const header = {
    version: 1,
    kind: 'file',
    records: [],
    left_out: 0,
    curves: [
      {
        label: 'a',
        quantity: 'counts',
        block: null,
        units: '',
        x: 'x0',
        y: 'y0',
        axis: { name: 'time', units: 's' }
      }
    ],
    arrays: [
      { name: 'x0', type: 'float64', shape: [3], at: 0 },
      { name: 'y0', type: 'float32', shape: [3], at: 24 }
    ]
  };
  let text = JSON.stringify(header);
  text += ' '.repeat((8 - (text.length % 8)) % 8);
  const data = new ArrayBuffer(8 + text.length + 24 + 16);
  new Uint8Array(data).set(new TextEncoder().encode(`SBP1\0\0\0\0${text}`));
  new DataView(data).setUint32(4, text.length, true);
  new Float64Array(data, 8 + text.length, 3).set([3, 1, 2]);
  new Float32Array(data, 8 + text.length + 24, 3).set([30, 10, 20]);
  const [curve] = spectraOf(data).curves;
  assert.deepEqual([...(curve?.x ?? [])], [1, 2, 3]);
  assert.deepEqual([...(curve?.y ?? [])], [10, 20, 30]);
});
