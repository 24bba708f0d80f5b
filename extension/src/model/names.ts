/** Public names of the package, as its server tells of them, and how one is found. */

export interface PublicName {
  name: string;
  /** In full, without types. */
  called: string;
  first: string;
  docstring: string;
  /** What somebody begins with. */
  call: string;
}

/** A call between what stands before and after it on its line: a line of its own, as far in as that one. */
export function onItsOwnLine(call: string, before: string, after: string): string {
  const indent = /^\s*/.exec(before)?.[0] ?? '';
  const isFirst = before.trim() === '';
  return `${isFirst ? '' : `\n${indent}`}${call}${after.trim() === '' ? '' : `\n${isFirst ? before : indent}`}`;
}

/** Names that fit all words of a query: those whose own name fits first, then those whose text does. */
export function matching(names: readonly PublicName[], query: string): PublicName[] {
  const words = query
    .toLowerCase()
    .replace(/^sb\./, '')
    .split(/[\s_().]+/)
    .filter(word => word !== '');
  const ranked = names.flatMap(one => {
    const ranks = words.map(word => rank(one, word));
    const worst = Math.max(0, ...ranks);
    return worst === Infinity ? [] : [{ one, worst, sum: ranks.reduce((sum, each) => sum + each, 0) }];
  });
  ranked.sort((a, b) => a.worst - b.worst || a.sum - b.sum); // stable: the server's order otherwise
  return ranked.map(({ one }) => one);
}

function rank({ name, first, docstring }: PublicName, word: string): number {
  const own = name.toLowerCase();
  if (own.startsWith(word)) {
    return own.length === word.length ? 0 : 1;
  }
  const places = [own.split('_').some(part => part.startsWith(word)), own.includes(word)];
  places.push(...[first, docstring].map(text => begins(text, word)));
  const at = places.indexOf(true);
  return at < 0 ? Infinity : at + 2;
}

/** Whether a word of a text begins so. */
function begins(text: string, letters: string): boolean {
  const words = text.toLowerCase().split(/[^\p{L}\p{N}]+/u);
  return words.some(word => word.startsWith(letters));
}

/** A part of a docstring: prose in paragraphs, lines of code, or entries with what is said of each. */
export type Section =
  | { kind: 'prose'; heading: string; paragraphs: string[] }
  | { kind: 'code'; heading: string; text: string }
  | { kind: 'entries'; heading: string; entries: { term: string; text: string }[] };

const ENTRIES = ['Parameters', 'Returns', 'Raises', 'Yields', 'Attributes'];

/** The parts of a docstring in numpydoc, without its first line. */
export function sectionsOf(docstring: string): Section[] {
  const lines = docstring.split('\n').slice(1);
  const parts: { heading: string; lines: string[] }[] = [{ heading: '', lines: [] }];
  for (let i = 0; i < lines.length; i++) {
    const line = lines[i] ?? '';
    if (/^\S/.test(line) && /^-{3,}$/.test(lines[i + 1] ?? '')) {
      parts.push({ heading: line, lines: [] });
      i++;
    } else {
      parts.at(-1)?.lines.push(line);
    }
  }
  return parts.filter(part => part.lines.some(line => line.trim() !== '')).map(sectionOf);
}

function sectionOf({ heading, lines }: { heading: string; lines: string[] }): Section {
  if (heading === 'Examples') {
    return { kind: 'code', heading, text: lines.join('\n').trim() };
  }
  if (!ENTRIES.includes(heading)) {
    return { kind: 'prose', heading, paragraphs: paragraphs(lines) };
  }
  const entries: { term: string; lines: string[] }[] = [];
  for (const line of lines) {
    if (/^\S/.test(line)) {
      entries.push({ term: line, lines: [] });
    } else {
      entries.at(-1)?.lines.push(line);
    }
  }
  return {
    kind: 'entries',
    heading,
    entries: entries.map(({ term, lines: said }) => ({ term, text: paragraphs(said).join(' ') }))
  };
}

function paragraphs(lines: readonly string[]): string[] {
  return lines
    .map(line => line.trim())
    .join('\n')
    .split(/\n{2,}/)
    .map(text => text.trim().replaceAll('\n', ' '))
    .filter(text => text !== '');
}

/** Words and, between backticks, code, in turn: every second piece is code. */
export function pieces(text: string): string[] {
  return text.split(/`{1,2}([^`]+)`{1,2}/);
}
