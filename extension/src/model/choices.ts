/** What somebody has chosen in the settings. */

import type { PaletteName } from './palette.js';
import type { Range } from './scales.js';

export interface Choices {
  /** Limits of the band in nm; where one is missing, the file decides. */
  low: number | undefined;
  high: number | undefined;
  /** A unit that the server knows, in which it then answers. */
  irradiance: string;
  palette: PaletteName;
}

export const USUAL: Choices = {
  low: undefined,
  high: undefined,
  irradiance: 'mW/cm²',
  palette: 'colours'
};

/** The settings as they are stored; what is missing or of another type is as usual. */
export function choicesOf(stored: Readonly<Record<string, unknown>>): Choices {
  const { bandLow, bandHigh, irradiance, palette } = stored;
  return {
    low: typeof bandLow === 'number' ? bandLow : undefined,
    high: typeof bandHigh === 'number' ? bandHigh : undefined,
    irradiance: typeof irradiance === 'string' ? irradiance : USUAL.irradiance,
    palette: palette === 'greys' ? 'greys' : 'colours'
  };
}

/** The chosen band, as far as it lies on an axis; the whole axis, if nothing of it does. */
export function bandOf({ low, high }: Pick<Choices, 'low' | 'high'>, whole: Range): Range {
  const start = Math.max(low ?? whole[0], whole[0]);
  const end = Math.min(high ?? whole[1], whole[1]);
  return start < end ? [start, end] : whole;
}
