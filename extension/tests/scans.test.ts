/** Frames and parts: their payloads, who is left out and why, and which wavelengths are wanted. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { cellsOf, passedOf, quotedOf, withWavelength } from '../src/model/passed.js';
import { checkedOf, markOf, placesOf, scansOf, withReason, wordsOf } from '../src/model/scans.js';

/** A payload with float64 arrays, as `spectralbench.payload.pack` lays it out. */
function packed(header: object, arrays: Record<string, number[]>): ArrayBuffer {
  let at = 0;
  const told = Object.entries(arrays).map(([name, values]) => {
    const one = { name, type: 'float64', shape: [values.length], at };
    at += values.length * 8;
    return one;
  });
  let text = JSON.stringify({ ...header, version: 1, arrays: told });
  text += ' '.repeat((8 - (new TextEncoder().encode(text).length % 8)) % 8);
  const head = new TextEncoder().encode(text);
  const numbers = new Uint8Array(Float64Array.from(Object.values(arrays).flat()).buffer);
  const whole = new Uint8Array(8 + head.length + numbers.length);
  whole.set(new TextEncoder().encode('SBP1'));
  new DataView(whole.buffer).setUint32(4, head.length, true);
  whole.set(head, 8);
  whole.set(numbers, 8 + head.length);
  return whole.buffer;
}

const along = {
  quantity: '',
  block: null,
  units: 'counts',
  axis: { name: 'wavelength', units: 'nm' },
  x: 'x0'
};
const row = {
  odd: false,
  level: '+0.01 %',
  noise: '0.1 × noise',
  highest: '24491',
  share: '37 %',
  saturated: '',
  verdict: 'may be used',
  reason: ''
};

test('a frame has its scans by number, its saturation and where pixels are saturated', () => {
  const header = {
    kind: 'frame',
    saturation: 62258.25,
    saturation_text: 'saturated from 95 % of 65,535 counts on',
    stretches: [[435.1, 436.5]],
    saturated: '6 pixels at 435.2–436.4 nm',
    curves: [
      { ...along, label: 'scan 1', y: 'y0', number: 1 },
      { ...along, label: 'one scan', y: 'y0', role: 'scatter', low: 'l', high: 'h' }
    ]
  };
  const found = scansOf(packed(header, { x0: [365, 366], y0: [1, 2], l: [0, 1], h: [2, 3] }));
  assert.equal(found.curves[0]?.number, 1);
  assert.equal(found.curves[0].x, found.curves[1]?.x);
  assert.deepEqual([...(found.curves[1]?.high ?? [])], [2, 3]);
  assert.equal(found.saturation, 62258.25);
  assert.deepEqual(found.stretches, [[435.1, 436.5]]);
  assert.equal(scansOf(packed({ kind: 'frame', curves: [] }, {})).saturation, null);
  assert.throws(() => scansOf(packed({ kind: 'strip', curves: [] }, {})), /shows "frame"/);
});

test('scans that stand out have places of their own, the others share the first', () => {
  const rows = [
    { ...row, number: 1 },
    { ...row, number: 2, odd: true },
    { ...row, number: 3, verdict: 'left out' }
  ];
  assert.deepEqual(
    [...placesOf(rows)],
    [
      [2, 1],
      [3, 2]
    ]
  );
});

test('a scan is left out with its reason, and taken back', () => {
  const one = withReason({}, 3, 'lamp flickered');
  const two = withReason(one, 5, 'door');
  assert.deepEqual(two, { 3: 'lamp flickered', 5: 'door' });
  assert.deepEqual(withReason(two, 3, 'shutter'), { 3: 'shutter', 5: 'door' });
  assert.deepEqual(withReason(two, 3, null), { 5: 'door' });
  assert.deepEqual(one, { 3: 'lamp flickered' });
});

test('every verdict has a mark and words', () => {
  const verdicts = ['may be used', 'with care', 'not', 'left out'];
  assert.equal(new Set(verdicts.map(markOf)).size, 4);
  assert.deepEqual(verdicts.map(wordsOf), [
    'may be used',
    'may be used with care',
    'may not be used',
    'left out'
  ]);
  assert.equal(checkedOf({}), undefined);
  assert.deepEqual(checkedOf({ verdict: 'not' })?.scans, []);
});

test('what parts pass has gaps, and a band where one is required', () => {
  const curve = { ...along, units: '%', label: 'cover, as bonded', y: 'y0', role: 'bonded' };
  const header = {
    kind: 'transmission',
    gaps: [[254, 358]],
    band: [320, 430],
    data_sheet: 365,
    curves: [curve]
  };
  const found = passedOf(packed(header, { x0: [365, 366], y0: [1, NaN] }));
  assert.deepEqual(found.gaps, [[254, 358]]);
  assert.deepEqual(found.band, [320, 430]);
  assert.ok(Number.isNaN(found.curves[0]?.y[1]));
  assert.equal(passedOf(packed({ kind: 'transmission', curves: [] }, {})).band, null);
});

test('figures stand by column, cut where decimals begin', () => {
  const cells = [
    { text: '80.2 %', interval: '79.4–81.1', units: '%' },
    { text: 'not known', interval: '', units: '%' }
  ];
  const columns = [
    { label: 'measured', told: '2 mm' },
    { label: 'bonded', told: '1 mm' }
  ];
  const quoted = quotedOf({ columns, rows: [{ wavelength: 405, told: '405 nm', cells }] });
  assert.ok(quoted);
  const [[first], [second]] = cellsOf(quoted) as [[unknown], [unknown]];
  assert.deepEqual(first, { words: '', whole: '80', decimals: '.2', units: '%', interval: '79.4–81.1' });
  assert.equal((second as { words: string }).words, 'not known');
  assert.equal(quotedOf(undefined), undefined);
});

test('wavelengths ascend, and none stands twice', () => {
  assert.deepEqual(withWavelength([365, 405], 385), [365, 385, 405]);
  assert.deepEqual(withWavelength([365, 405], 405), [365, 405]);
});
