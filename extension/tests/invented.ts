/** Invented curves for tests. */

import type { Curve } from '../src/model/payload.js';

export function curve(x: number[], y: number[], of: Partial<Curve> = {}): Curve {
  return {
    label: 'scan 1',
    quantity: 'counts',
    block: null,
    units: '',
    axis: { name: 'wavelength', units: 'nm' },
    x: Float64Array.from(x),
    y: Float32Array.from(y),
    ...of
  };
}
