/** Colours and dashes of curves: those of the package's own reports, far apart for any colour vision. */

const COLOURS: readonly (readonly [string, string])[] = [
  ['#6276ff', '#8976ff'],
  ['#768900', '#ebc400'],
  ['#14624e', '#3bb1b1'],
  ['#c46289', '#ff2789'],
  ['#4e009d', '#c4ffc4'],
  ['#3b0000', '#768900']
];

/** In pixels; one fewer than colours, so that a pair comes back late. */
const DASHES: readonly (readonly number[])[] = [
  [],
  [9, 2.25],
  [3, 1.5],
  [10.5, 2.25, 3, 2.25],
  [6, 1.5, 1.5, 1.5, 1.5, 1.5]
];

/** Colour of a curve by its place, on a light page or a dark one. */
export function colourOf(place: number, dark: boolean): string {
  const [light, onDark] = COLOURS[place % COLOURS.length] ?? ['#1d2430', '#e6e9ef'];
  return dark ? onDark : light;
}

/** Dash pattern of a curve by its place. */
export function dashOf(place: number): number[] {
  return [...(DASHES[place % DASHES.length] ?? [])];
}
