import assert from 'node:assert/strict';
import { test } from 'node:test';

import { bandOf, choicesOf, USUAL } from '../src/model/choices.js';
import { colourOf, dashOf, takePalette } from '../src/model/palette.js';

test('what is not chosen, or is of another type, is as usual', () => {
  assert.deepEqual(choicesOf({}), USUAL);
  assert.deepEqual(choicesOf({ bandLow: '380', bandHigh: null, irradiance: 3, palette: 'pink' }), USUAL);
  assert.deepEqual(choicesOf({ bandLow: 380, bandHigh: 430, irradiance: 'W/m²', palette: 'greys' }), {
    low: 380,
    high: 430,
    irradiance: 'W/m²',
    palette: 'greys'
  });
});

test('a chosen band is cut to the axis, and is the whole axis where nothing of it lies', () => {
  const band = (low?: number, high?: number) => bandOf({ low, high }, [300, 420]);
  assert.deepEqual(band(), [300, 420]);
  assert.deepEqual(band(380, 430), [380, 420]);
  assert.deepEqual(band(undefined, 400), [300, 400]);
  assert.deepEqual(band(380), [380, 420]);
  assert.deepEqual(band(500, 600), [300, 420]);
  assert.deepEqual(band(400, 350), [300, 420]);
});

/** Contrast of a grey with white (WCAG 2.2, definitions of "contrast ratio" and "relative luminance"). */
function contrast(grey: string, page: number): number {
  assert.match(grey, /^#(..)\1\1$/);
  const channel = parseInt(grey.slice(1, 3), 16) / 255;
  const luminance = channel <= 0.04045 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4;
  const [high, low] = luminance > page ? [luminance, page] : [page, luminance];
  return (high + 0.05) / (low + 0.05);
}

test('greys differ in dashes first, stand out from either page, and repeat after ten curves', () => {
  takePalette('greys');
  const looks = Array.from({ length: 10 }, (_, i) => `${colourOf(i, false)} ${dashOf(i).join(' ')}`);
  assert.equal(new Set(looks).size, 10);
  for (let i = 0; i < 10; i++) {
    assert.notDeepEqual(dashOf(i), dashOf(i + 1));
    assert.ok(contrast(colourOf(i, false), 1) >= 4.5);
    assert.ok(contrast(colourOf(i, true), 0) >= 4.5);
  }
  takePalette('colours');
  assert.equal(colourOf(0, false), '#6276ff');
});
