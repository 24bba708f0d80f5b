/** Why the server did not give what was asked for. */

export interface Fault {
  line: number | null;
  column: number | null;
  found: string | null;
  expected: string | null;
  advice: string | null;
}

export interface Refusal {
  message: string;
  faults: Fault[];
  /** Lines of the file that the faults speak of. */
  lines: { line: number; text: string }[];
  /** There is no such file. */
  isMissing?: boolean;
}

/** The server's words, whatever it sent. */
export function refusalOf(body: string, status: number): Refusal {
  let said: Partial<Refusal> = {};
  try {
    said = (JSON.parse(body) ?? {}) as Partial<Refusal>;
  } catch {
    // not in JSON: the status has to do
  }
  const message = said.message ?? `the server answered with ${String(status)}`;
  const refusal = { message, faults: said.faults ?? [], lines: said.lines ?? [] };
  return status === 404 ? { ...refusal, isMissing: true } : refusal;
}

/** A line cut in three around a fault: before, what was found there, after. Without a fault it is whole. */
export function cutAt(text: string, fault: Fault | undefined): [string, string, string] {
  const found = (fault?.found ?? '').replace(/^"(.*)"$/, '$1');
  const start = found === '' ? -1 : placeOf(text, found, fault?.column ?? null);
  if (start < 0) {
    return ['', text, ''];
  }
  return [text.slice(0, start), found, text.slice(start + found.length)];
}

/** Where it stands: in the field of that number, if one delimiter puts it there; else where it comes first. */
function placeOf(text: string, found: string, column: number | null): number {
  for (const delimiter of column === null ? [] : ['\t', ';', ',']) {
    const fields = text.split(delimiter);
    const field = fields[(column ?? 1) - 1];
    if (field?.trim() === found) {
      const before = fields.slice(0, (column ?? 1) - 1).reduce((sum, one) => sum + one.length + 1, 0);
      return before + field.indexOf(found);
    }
  }
  return text.indexOf(found);
}
