/** A comparison as the package records it, and how its columns are set. */

import type { Figure } from './payload.js';

export interface Judged {
  verdict: string;
  reason: string;
  change: string;
}

export interface Compared {
  source: string;
  place: number;
  figures: Record<string, Figure | undefined>;
  criteria: Record<string, Judged | undefined>;
}

export interface Comparison {
  advice: string[];
  sources: Compared[];
  criteria: Record<string, { required: string; what: string } | undefined>;
  labels: Record<string, string | undefined>;
  long_names: Record<string, string | undefined>;
  not_measured: string[];
  cautions: string[];
  shown_figures: string[];
  /** Names in their order, which a saved notebook does not keep of keys. */
  shown_criteria: string[];
  /** Criteria that can be followed along a control. */
  followed: string[];
}

/** A mark for each verdict, beside its word. */
const MARKS: Record<string, string | undefined> = {
  met: '✓',
  'not met': '✗',
  'not known': '?',
  'no limit': '–'
};

/** The comparison, once there is one. */
export function comparisonOf(value: unknown): Comparison | undefined {
  const given = (value ?? {}) as Partial<Comparison>;
  if (given.sources === undefined) {
    return undefined;
  }
  const empty = {
    advice: [],
    not_measured: [],
    cautions: [],
    shown_figures: [],
    shown_criteria: [],
    followed: []
  };
  return { ...empty, criteria: {}, labels: {}, long_names: {}, ...given, sources: given.sources };
}

export function markOf(verdict: string): string {
  return MARKS[verdict] ?? '•';
}

/** Criteria of which some source has a limit, and those that decide nothing. */
export function criteriaOf(of: Comparison): { judged: string[]; weighed: string[] } {
  const { sources, shown_criteria: names } = of;
  const isJudged = (name: string) =>
    sources.some(source => (source.criteria[name]?.verdict ?? 'no limit') !== 'no limit');
  return { judged: names.filter(isJudged), weighed: names.filter(name => !isJudged(name)) };
}

/** A figure cut where its decimals begin, so that a column stands in line; words stay whole. */
export interface Cell {
  words: string;
  whole: string;
  decimals: string;
  units: string;
  interval: string;
}

const NUMBER = /^([<>≤≥−-]?\d[\d,\u202f]*)(\.\d+)?(?:\s*(\D.*))?$/;

export function cellOf(figure: Figure | undefined): Cell {
  const text = figure?.text ?? '';
  const found = NUMBER.exec(text);
  const interval = figure?.interval ?? '';
  if (!found) {
    return { words: text, whole: '', decimals: '', units: '', interval };
  }
  const [, whole = '', decimals = '', units = ''] = found;
  return { words: '', whole, decimals, units, interval };
}

/** A column of figures: its unit if all have the same, and how wide their wholes and decimals are. */
export function columnOf(cells: readonly Cell[]): { units: string; whole: number; decimals: number } {
  const numbers = cells.filter(cell => cell.words === '');
  const units = new Set(numbers.map(cell => cell.units));
  const widest = (of: (cell: Cell) => string) => Math.max(0, ...numbers.map(cell => of(cell).length));
  return {
    units: units.size === 1 ? ([...units][0] ?? '') : '',
    whole: widest(cell => cell.whole),
    decimals: widest(cell => cell.decimals)
  };
}
