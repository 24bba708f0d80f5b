/** Colours and dashes of curves: those of the package's own reports, far apart for any colour vision, or greys. */

export type PaletteName = 'colours' | 'greys';

/** On a light page, and on a dark one. */
type Colours = readonly (readonly [string, string])[];

const PALETTES: Record<PaletteName, Colours> = {
  colours: [
    ['#6276ff', '#8976ff'],
    ['#768900', '#ebc400'],
    ['#14624e', '#3bb1b1'],
    ['#c46289', '#ff2789'],
    ['#4e009d', '#c4ffc4'],
    ['#3b0000', '#768900']
  ],
  // for print: dashes tell curves apart, and a second grey those whose dashes come back
  greys: [
    ['#1a1a1a', '#f2f2f2'],
    ['#6e6e6e', '#a0a0a0']
  ]
};

/** In pixels; of a number that no palette has as a multiple, so that a pair comes back late. */
const DASHES: readonly (readonly number[])[] = [
  [],
  [9, 2.25],
  [3, 1.5],
  [10.5, 2.25, 3, 2.25],
  [6, 1.5, 1.5, 1.5, 1.5, 1.5]
];

let colours = PALETTES.colours;

/** Take another palette for whatever is drawn from now on. */
export function takePalette(name: PaletteName): void {
  colours = PALETTES[name];
}

/** Colour of a curve by its place, on a light page or a dark one. */
export function colourOf(place: number, dark: boolean): string {
  const [light, onDark] = colours[place % colours.length] ?? ['#1d2430', '#e6e9ef'];
  return dark ? onDark : light;
}

/** Dash pattern of a curve by its place. */
export function dashOf(place: number): number[] {
  return [...(DASHES[place % DASHES.length] ?? [])];
}
