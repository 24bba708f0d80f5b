/** A band in the chart, and the figures of all files in it. */

import { bandOf, type Choices } from '../model/choices.js';
import { wholeRange, within } from '../model/scales.js';
import { bandIn, type Band } from './band.js';
import type { Chart } from './chart.js';
import { figuresIn } from './figures.js';
import { namesOf, type Layer } from './layers.js';
import { all, type Dispose } from './listening.js';

export interface Measuring {
  /** Ask for the figures, in the band as it was as far as it still lies on the axis, or else in the chosen one. */
  measure: () => void;
  /** Put the band where the chart now has it. */
  place: () => void;
  /** Take the band that is chosen now. */
  choose: () => void;
  dispose: Dispose;
}

/** A band with its table of figures; `changed` hears that a file is another one than what is shown. */
export function measuringIn(
  host: HTMLElement,
  chart: Chart,
  layers: readonly Layer[],
  choices: () => Choices,
  changed: () => void
): Measuring {
  let band: Band | undefined;
  const whole = () => wholeRange(layers[0]?.view.curves ?? []);
  const table = figuresIn(host, {
    measured: () => {
      const names = namesOf(layers);
      return layers.map(({ source: { ask }, spectra: { records }, view }, i) => ({
        name: names[i] ?? '',
        sha256: records[0]?.sha256 ?? null,
        view,
        ask: (low, high) => ask(view, low, high)
      }));
    },
    whole,
    limited: limits => {
      band?.set(...limits);
    },
    changed
  });
  const forget = () => {
    band?.dispose();
    band = undefined;
  };
  const measure = () => {
    const [had, before] = [band !== undefined, band?.limits()];
    forget();
    host.hidden = layers[0]?.view.axis.name !== 'wavelength';
    if (!host.hidden) {
      band = bandIn(chart, whole(), table.ask);
      band.set(...(before ? within(before, whole()) : had ? whole() : bandOf(choices(), whole())));
    }
  };
  return {
    measure,
    place: () => band?.place(),
    choose: () => {
      forget();
      measure();
    },
    dispose: all(forget, table.dispose)
  };
}
