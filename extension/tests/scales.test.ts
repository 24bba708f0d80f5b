import assert from 'node:assert/strict';
import { test } from 'node:test';

import {
  decades,
  firstFrom,
  heightRange,
  nearest,
  panned,
  share,
  ticks,
  wholeRange,
  within,
  zoomed
} from '../src/model/scales.js';
import { curve } from './invented.js';

const rising = curve([300, 350, 400], [-10, 100, 1000]);

test('the whole range goes from the first sample of any curve to the last', () => {
  assert.deepEqual(wholeRange([rising, curve([250, 320], [0, 1])]), [250, 400]);
  assert.deepEqual(wholeRange([curve([365], [1])]), [364.5, 365.5]);
  assert.deepEqual(wholeRange([]), [0, 1]);
});

test('the height fits what is shown, and has its zero', () => {
  assert.deepEqual(heightRange([rising], [340, 360], false), [0, 105]);
  const [low, high] = heightRange([rising], [300, 400], false);
  assert.ok(low < -10 && high > 1000);
  assert.deepEqual(heightRange([], [0, 1], false), [0, 1]);
});

test('a logarithmic height leaves out what has no logarithm, and noise eight decades down', () => {
  const [low, high] = heightRange([rising], [300, 400], true);
  assert.equal(low, 100);
  assert.ok(high > 1000);
  assert.equal(heightRange([curve([1, 2], [1e-20, 1])], [0, 3], true)[0], 1e-8);
});

test('a sample that is not valid does not stretch the height', () => {
  assert.deepEqual(heightRange([curve([1, 2, 3], [NaN, 100, NaN])], [0, 4], false), [0, 105]);
});

test('a zoom keeps the place it is about, and never leaves the whole', () => {
  assert.deepEqual(zoomed([0, 100], [0, 100], 0.5, 50), [25, 75]);
  assert.deepEqual(zoomed([0, 100], [0, 100], 0.5, 0), [0, 50]);
  assert.deepEqual(zoomed([25, 75], [0, 100], 10, 50), [0, 100]);
});

test('a pan stops at the ends', () => {
  assert.deepEqual(panned([20, 40], [0, 100], 0.5), [30, 50]);
  assert.deepEqual(panned([20, 40], [0, 100], -5), [0, 20]);
  assert.deepEqual(within([90, 130], [0, 100]), [60, 100]);
});

test('samples are found from either side', () => {
  const x = Float64Array.from([1, 2, 4]);
  assert.deepEqual(
    [0, 2, 3, 5].map(value => firstFrom(x, value)),
    [0, 1, 2, 3]
  );
  assert.deepEqual(
    [0, 1.4, 1.6, 3.1, 9].map(value => nearest(x, value)),
    [0, 0, 1, 2, 2]
  );
  assert.equal(nearest(new Float64Array(), 1), -1);
});

test('ticks are round and inside', () => {
  assert.deepEqual(ticks([248, 752], 5), [400, 600]);
  assert.deepEqual(ticks([0, 1], 5), [0, 0.2, 0.4, 0.6, 0.8, 1]);
  assert.deepEqual(decades([0.1, 10000]), [0.1, 1, 10, 100, 1000, 10000]);
  assert.deepEqual(decades([200, 1500]), [200, 500, 1000]);
});

test('a share of a range is the same on either scale at its ends', () => {
  for (const logarithmic of [false, true]) {
    assert.equal(share(10, [10, 1000], logarithmic), 0);
    assert.equal(share(1000, [10, 1000], logarithmic), 1);
  }
  assert.ok(Math.abs(share(100, [10, 1000], true) - 0.5) < 1e-12);
  assert.ok(share(-5, [10, 1000], true) < 0);
});
