/** What a cursor reads of several charts at once. */

import { valueAt } from './strip.js';
import type { Curve } from './payload.js';
import { number, position, withUnits } from './text.js';

export interface Read {
  caption: string;
  curves: readonly Pick<Curve, 'label' | 'units' | 'x' | 'y'>[];
}

/** A value to three digits. */
export function short(value: number): string {
  return number(Number(value.toPrecision(3)));
}

/** One line: the place on the axis, then what each strip has there; a unit that neighbours share stands once. */
export function readings(at: number, strips: readonly Read[], units = 'nm', axis = ''): string {
  const parts = strips.map(({ caption, curves }) => {
    const told = curves.map((curve, i) => {
      const text = `${curve.label} ${short(valueAt(curve, at))}`;
      return curve.units === curves[i + 1]?.units ? text : withUnits(text, curve.units);
    });
    return told.length === 0 ? '' : `${caption === '' ? '' : `${caption}: `}${told.join(', ')}`;
  });
  const place = `${axis} ${position(at, units)}`.trim();
  return [place, ...parts.filter(Boolean)].join(' · ');
}
