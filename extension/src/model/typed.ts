/** Numbers that somebody types, and what is said of those that are not taken as they are. */

import { stepped, type Control } from './controls.js';
import { narrowest, type Range } from './scales.js';
import { number, withUnits } from './text.js';

/** What becomes of something typed: a value, words, or both. */
export interface Taken<T> {
  value?: T;
  said: string;
}

const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?$/i;
const THOUSANDS = /^[+-]?[1-9]\d{0,2},\d{3}$/;

/** A number with a point or a comma before its decimals; refused in words if it is none, or could be two. */
export function numberOf(typed: string): Taken<number> {
  const text = typed.trim().replace('−', '-');
  if (THOUSANDS.test(text)) {
    const [one, other] = [text.replace(',', ''), text.replace(',', '.')];
    return { said: `“${text}” may be ${one} or ${other}: write it without the comma` };
  }
  const value = NUMBER.test(text) ? Number(text.replace(',', '.')) : NaN;
  return Number.isFinite(value) ? { value, said: '' } : { said: `“${text}” is not a number` };
}

/** The value that a control takes for what was typed; nothing, without words, if nothing was. */
export function takenBy(typed: string, control: Control): Taken<number> {
  const found = typed.trim() === '' ? { said: '' } : numberOf(typed);
  if (found.value === undefined) {
    return found;
  }
  const [value, { low, high }] = [stepped(found.value, control), control];
  const [asked, now] = [found.value, value].map(one => withUnits(number(one), control.units));
  if (found.value < low || found.value > high) {
    const end = found.value < low ? 'begins' : 'ends';
    return { value, said: `not ${asked ?? ''}: this ${end} at ${now ?? ''}` };
  }
  const isMoved = Math.abs(value - found.value) > control.step * 1e-6;
  return { value, said: isMoved ? `${asked ?? ''} is set to ${now ?? ''}, the nearest step` : '' };
}

/** The band that two limits name on an axis [nm]: cut at the ends of the axis, but never another one. */
export function bandTyped(typed: readonly [string, string], whole: Range): Taken<Range> {
  if (typed.some(one => one.trim() === '')) {
    return { said: 'write both limits of the band' };
  }
  const least = narrowest(whole);
  const [first, second] = typed.map(numberOf);
  const [low, high] = [first?.value, second?.value];
  if (low === undefined || high === undefined) {
    return { said: [first?.said, second?.said].filter(Boolean).join('; ') };
  }
  const asked = `${number(low)} to ${number(high)} nm`;
  const there = `${number(whole[0])} to ${number(whole[1])} nm`;
  if (high <= low) {
    return { said: `${asked} is no band: the first limit is the lower one. The band stays as it was` };
  }
  if (high <= whole[0] || low >= whole[1]) {
    return { said: `${asked} lies outside of this file, ${there}. The band stays as it was` };
  }
  if (high - low < least * (1 - 1e-9)) {
    return { said: `${asked} is narrower than ${number(least)} nm. The band stays as it was` };
  }
  const cut: Range = [Math.max(low, whole[0]), Math.min(high, whole[1])];
  const value: Range = [Math.min(cut[0], whole[1] - least), Math.max(cut[1], whole[0] + least)];
  return { value, said: low < whole[0] || high > whole[1] ? `cut where this file ends: ${there}` : '' };
}
