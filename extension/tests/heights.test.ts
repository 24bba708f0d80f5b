/** How high the axes of a plot reach. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { heightOf, type Drawn, type Layout } from '../src/view/layout.js';
import { curve } from './invented.js';

test('a height stays while curves fit, so that a curve is seen to fall', () => {
  const line = (y: number[], more: Partial<Drawn> = {}): Drawn => {
    return { curve: curve([300, 400], y), name: '', full: '', place: 0, width: 1, second: false, ...more };
  };
  const layout: Layout = { across: '', logarithmic: false, sides: [0, 0] };
  const of = (lines: Drawn[], before?: readonly [number, number], how = layout) =>
    heightOf(lines, [300, 400], how, false, before);
  const first = of([line([0, 100])]);
  assert.deepEqual(first, [0, 105]);
  assert.equal(of([line([0, 60])], first), first);
  assert.deepEqual(of([line([0, 200])], first), [0, 210]);
  assert.deepEqual(of([line([0, 10])], first), [0, 10.5]);
  assert.equal(of([line([-1, 100])])[0], 0);
  assert.ok(of([line([-50, 100])])[0] < -50);
  assert.deepEqual(of([line([0, 100], { high: Float32Array.of(0, 200) })]), [0, 210]);
  assert.deepEqual(of([line([0, 100])], undefined, { ...layout, reach: 300 }), [0, 315]);
  assert.deepEqual(of([line([0, 100])], undefined, { ...layout, fixed: [0, 7] }), [0, 7]);
  assert.deepEqual(of([line([1e-9, 100])], undefined, { ...layout, logarithmic: true }), [0.01, 130]);
});
