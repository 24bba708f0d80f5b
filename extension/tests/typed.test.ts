/** What becomes of numbers that somebody types. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import type { Control } from '../src/model/controls.js';
import { bandTyped, numberOf, takenBy } from '../src/model/typed.js';

test('a number has a point or a comma before its decimals', () => {
  for (const [typed, value] of [
    ['1,5', 1.5],
    [' 1.5 ', 1.5],
    ['−2', -2],
    ['0,125', 0.125],
    [',5', 0.5],
    ['20000', 20000],
    ['1e3', 1000]
  ] as const) {
    assert.deepEqual(numberOf(typed), { value, said: '' }, typed);
  }
});

test('what is no number, or could be two, is refused in words', () => {
  assert.deepEqual(numberOf('20,000'), {
    said: '“20,000” may be 20000 or 20.000: write it without the comma'
  });
  for (const typed of ['1,5x', '1.234,5', '1 5', '', 'NaN', '1e999', '-']) {
    const { value, said } = numberOf(typed);
    assert.equal(value, undefined, typed);
    assert.equal(said, `“${typed}” is not a number`);
  }
});

const cover: Control = {
  ...{ control: 'thickness', of: 'cover', label: 'thickness of cover', units: 'mm' },
  ...{ low: 0.2, high: 6, step: 0.05, bench: 2, fixed: '' }
};
const level: Control = { ...cover, control: 'level', units: '%', low: 1, high: 100, step: 1, bench: 100 };

test('a control says what it did with a number that it does not take as it is', () => {
  assert.deepEqual(takenBy('1,5', cover), { value: 1.5, said: '' });
  assert.deepEqual(takenBy('100', cover), { value: 6, said: 'not 100 mm: this ends at 6 mm' });
  assert.deepEqual(takenBy('0', level), { value: 1, said: 'not 0 %: this begins at 1 %' });
  assert.deepEqual(takenBy('1.234', cover), {
    value: 1.25,
    said: '1.234 mm is set to 1.25 mm, the nearest step'
  });
  assert.deepEqual(takenBy('2', cover), { value: 2, said: '' });
  assert.deepEqual(takenBy('two', cover), { said: '“two” is not a number' });
  assert.deepEqual(takenBy('', cover), { said: '' });
});

test('a band is taken as typed, cut where the file ends, or refused in words', () => {
  const whole = [350, 469.5] as const;
  assert.deepEqual(bandTyped(['380', '430,5'], whole), { value: [380, 430.5], said: '' });
  assert.deepEqual(bandTyped(['300', '400'], whole), {
    value: [350, 400],
    said: 'cut where this file ends: 350 to 469.5 nm'
  });
  for (const [typed, said] of [
    [['430', '380'], /^430 to 380 nm is no band: the first limit is the lower one/],
    [['-5', '0'], /^−5 to 0 nm lies outside of this file, 350 to 469.5 nm/],
    [['1e9', '2e9'], /lies outside of this file/],
    [['400', '400.01'], /^400 to 400.01 nm is narrower than 0.1 nm/],
    [['a', '400'], /^“a” is not a number$/],
    [['', '400'], /^write both limits/]
  ] as const) {
    const found = bandTyped(typed, whole);
    assert.equal(found.value, undefined, typed.join(' '));
    assert.match(found.said, said);
  }
});
