/** A payload as the package's `spectralbench.payload` packs it: a header in JSON, then arrays. */

export interface Figure {
  value: number | null;
  units: string;
  text: string;
  interval?: string;
}

/** What is known of a file, or of one block of it. */
export interface FileRecord {
  file: string;
  block: string | null;
  title?: string;
  format: string | null;
  sha256: string | null;
  header: Record<string, unknown>;
  warnings: string[];
  decisions: string[];
  history: string[];
  labels?: Record<string, string[]>;
  quantities: { quantity: string; figures?: Record<string, Figure> }[];
}

export interface Axis {
  name: string;
  units: string;
  since?: string;
}

export interface Curve {
  label: string;
  quantity: string;
  block: string | null;
  units: string;
  axis: Axis;
  /** Ascending. */
  x: Float64Array;
  y: Float32Array;
}

export interface Spectra {
  records: FileRecord[];
  curves: Curve[];
  /** How many curves the file holds beyond those. */
  leftOut: number;
}

export type Numbers = Float32Array | Float64Array | Uint16Array;

interface Described {
  name: string;
  type: string;
  shape: number[];
  at: number;
}

/** A curve as the header tells of it: names of arrays where a curve has the arrays. */
export type Told<C extends Curve> = Omit<C, 'x' | 'y' | 'axis' | 'low' | 'high'> & {
  x: string;
  y: string;
  low?: string;
  high?: string;
  axis: Axis & { first?: number; steps?: number };
};

export interface Header {
  version?: number;
  kind: string;
}

interface FileHeader extends Header {
  records: FileRecord[];
  left_out: number;
  curves: Told<Curve>[];
}

const MARK = 'SBP1';
const VERSION = 1;
const TYPES = { float32: Float32Array, float64: Float64Array, uint16: Uint16Array };

/** The curves of a file and what is known of it. */
export function spectraOf(data: ArrayBuffer): Spectra {
  const [header, arrays] = unpacked<FileHeader>(data, 'file');
  const curves = curvesOf(header.curves, arrays).map(ascending);
  return { records: header.records, curves, leftOut: header.left_out };
}

/** Header and arrays of a payload of one kind; a header without a version is of this one. */
export function unpacked<H extends Header>(data: ArrayBuffer, kind: string): [H, Map<string, Numbers>] {
  const [header, arrays] = parts<H>(data);
  if ((header.version ?? VERSION) !== VERSION || header.kind !== kind) {
    throw new RangeError(
      `the server sent "${header.kind}" in version ${String(header.version)}, and this page shows "${kind}" ` +
        `in version ${String(VERSION)}: reload the page after an update`
    );
  }
  return [header, arrays];
}

/** Curves with their arrays; those of one axis share it. */
export function curvesOf<C extends Curve>(told: readonly Told<C>[], arrays: Map<string, Numbers>): C[] {
  const axes = new Map<string, Float64Array>();
  const values = (name: string) => Float32Array.from(arrayOf(arrays, name));
  return told.map(curve => {
    const { first, steps, ...axis } = curve.axis;
    const x = axes.get(curve.x) ?? positions(arrayOf(arrays, curve.x), first, steps);
    axes.set(curve.x, x);
    const { low, high } = curve;
    const interval = low !== undefined && high !== undefined ? { low: values(low), high: values(high) } : {};
    return { ...curve, axis, x, y: values(curve.y), ...interval } as unknown as C;
  });
}

function parts<H extends Header>(data: ArrayBuffer): [H, Map<string, Numbers>] {
  const mark = new TextDecoder().decode(data.slice(0, 4));
  if (mark !== MARK) {
    throw new RangeError(`a payload begins with "${MARK}", not "${mark}"`);
  }
  const start = data.byteLength < 8 ? Infinity : 8 + new DataView(data).getUint32(4, true);
  if (data.byteLength < start) {
    throw new RangeError(`a payload ends within its header, after ${String(data.byteLength)} bytes`);
  }
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 8, start - 8))) as H & {
    arrays: Described[];
  };
  const arrays = new Map<string, Numbers>();
  for (const { name, type, shape, at } of header.arrays) {
    if (!(type in TYPES)) {
      throw new RangeError(`the array ${name} is of the type "${type}", which nobody reads here`);
    }
    const kind = TYPES[type as keyof typeof TYPES];
    const count = shape.reduce((product, size) => product * size, 1);
    if (data.byteLength < start + at + count * kind.BYTES_PER_ELEMENT) {
      throw new RangeError(`a payload ends within its array ${name}`);
    }
    arrays.set(name, new kind(data, start + at, count));
  }
  return [header, arrays];
}

function arrayOf(arrays: Map<string, Numbers>, name: string): Numbers {
  const found = arrays.get(name);
  if (!found) {
    throw new RangeError(`a payload without its array ${name}`);
  }
  return found;
}

/** Values of an axis, which comes as it is or as differences in whole steps. */
function positions(array: Numbers, first?: number, steps?: number): Float64Array {
  if (first === undefined || steps === undefined) {
    return Float64Array.from(array);
  }
  const found = new Float64Array(array.length);
  let count = 0;
  for (let i = 0; i < array.length; i++) {
    count += array[i] ?? 0;
    found[i] = first + count * steps;
  }
  return found;
}

/** The same curve along an ascending axis, without samples that lie nowhere. */
function ascending(curve: Curve): Curve {
  const { x, y } = curve;
  if (x.every((value, i) => i === 0 || value >= (x[i - 1] ?? NaN)) && !Number.isNaN(x[0])) {
    return curve;
  }
  const order = Array.from(x.keys()).filter(i => !Number.isNaN(x[i]));
  order.sort((i, j) => (x[i] ?? 0) - (x[j] ?? 0));
  return {
    ...curve,
    x: Float64Array.from(order, i => x[i] ?? NaN),
    y: Float32Array.from(order, i => y[i] ?? NaN)
  };
}
