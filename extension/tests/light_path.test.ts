/** The light path: its payloads, its controls, and how its words and figures are set. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { cellOf, columnOf, comparisonOf, criteriaOf, markOf } from '../src/model/comparison.js';
import { isTurned, placeOf, stepped, sweepable, written, type Control } from '../src/model/controls.js';
import { readings } from '../src/model/reading.js';
import { bytesOf, litRange, stripOf, valueAt } from '../src/model/strip.js';
import { askedOf, between, rows, sweepOf } from '../src/model/sweep.js';
import { curve } from './invented.js';

const TYPES = { float32: Float32Array, float64: Float64Array, uint16: Uint16Array };

/** A payload as `spectralbench.payload.pack` lays it out. */
function packed(header: object, arrays: Record<string, [keyof typeof TYPES, number[]]>): ArrayBuffer {
  let at = 0;
  const parts = Object.entries(arrays).map(([name, [type, values]]) => {
    const bytes = new Uint8Array(TYPES[type].from(values).buffer);
    const told = { name, type, shape: [values.length], at };
    at += Math.ceil(bytes.length / 8) * 8;
    return { told, bytes };
  });
  let text = JSON.stringify({ ...header, arrays: parts.map(part => part.told) });
  text += ' '.repeat((8 - (new TextEncoder().encode(text).length % 8)) % 8);
  const head = new TextEncoder().encode(text);
  const whole = new Uint8Array(8 + head.length + at);
  whole.set(new TextEncoder().encode('SBP1'));
  new DataView(whole.buffer).setUint32(4, head.length, true);
  whole.set(head, 8);
  for (const { told, bytes } of parts) {
    whole.set(bytes, 8 + head.length + told.at);
  }
  return whole.buffer;
}

const along = { quantity: '', block: null, units: '%', axis: { name: 'wavelength', units: 'nm' }, x: 'x0' };

test('a strip has its curves with their roles, its band and its figures', () => {
  const axis = { ...along.axis, first: 360, steps: 0.5 };
  const curves = [
    { ...along, axis, label: 'cover', y: 'y0', role: 'part' },
    { ...along, axis, label: 'all', y: 'y1', role: 'all' }
  ];
  const header = {
    version: 1,
    kind: 'strip',
    band: [361, 362],
    data_sheet: 365,
    figures: { arc: '1 W' },
    curves
  };
  const data = packed(header, {
    x0: ['uint16', [0, 2, 2]],
    y0: ['float32', [10, 20, 30]],
    y1: ['float32', [1, 2, 3]]
  });
  const strip = stripOf(data);
  assert.deepEqual([...(strip.curves[0]?.x ?? [])], [360, 361, 362]);
  assert.deepEqual([...(strip.curves[1]?.y ?? [])], [1, 2, 3]);
  assert.equal(strip.curves[1]?.role, 'all');
  assert.equal(strip.curves[0]?.x, strip.curves[1].x);
  assert.deepEqual([strip.band, strip.dataSheet, strip.figures], [[361, 362], 365, { arc: '1 W' }]);
  assert.throws(() => sweepOf(data), /sent "strip" in version 1, and this page shows "sweep"/);
});

test('bytes of a widget may begin anywhere in their buffer', () => {
  const data = new Uint8Array(packed({ version: 1, kind: 'strip', curves: [] }, {}));
  const buffer = new Uint8Array(data.length + 3);
  buffer.set(data, 3);
  const found = bytesOf(new DataView(buffer.buffer, 3));
  assert.ok(found);
  assert.deepEqual(stripOf(found).curves, []);
  assert.equal(bytesOf(new DataView(new ArrayBuffer(0))), undefined);
  assert.equal(bytesOf(null), undefined);
});

test('a sweep has intervals where there are draws, and none where there are not', () => {
  const curves = [
    { ...along, label: 'arc', y: 'y0', low: 'l0', high: 'h0' },
    { ...along, label: 'LED', y: 'y1' }
  ];
  const header = {
    ...{ kind: 'sweep', criterion: 'irradiance', control: 'thickness', of: 'cover', across: 'mm', up: 'W' },
    ...{ limit: 5, limit_text: '≥ 5', crossings: [{ source: 'arc', at: 1.5, text: 'arc falls' }], curves }
  };
  const sweep = sweepOf(
    packed(header, {
      x0: ['float64', [1, 2]],
      y0: ['float32', [6, 4]],
      l0: ['float32', [5, 3]],
      h0: ['float32', [7, 5]],
      y1: ['float32', [NaN, 1]]
    })
  );
  const [arc, led] = sweep.curves;
  assert.deepEqual(
    [arc?.low, arc?.high].map(one => [...(one ?? [])]),
    [
      [5, 3],
      [7, 5]
    ]
  );
  assert.equal(led?.low, undefined);
  assert.ok(Number.isNaN(led?.y[0]));
  assert.deepEqual([sweep.limit, sweep.limitText, sweep.crossings[0]?.at, sweep.notes], [5, '≥ 5', 1.5, []]);
  assert.deepEqual(askedOf({ criterion: 'time', control: 'level' }), {
    criterion: 'time',
    control: 'level',
    of: ''
  });
  assert.equal(askedOf({}), undefined);
});

test('labels that would lie over one another stand in rows', () => {
  assert.deepEqual(rows([10, 20, 60, 70, 75], 40), [0, 1, 0, 1, 2]);
  assert.deepEqual(rows([], 40), []);
});

test('where a control stands lies on the straight line between two steps, and nowhere outside of them', () => {
  const curve = { x: Float64Array.of(1, 2, 4), y: Float32Array.of(10, 20, NaN) };
  assert.equal(between(curve, 1), 10);
  assert.equal(between(curve, 1.25), 12.5);
  assert.equal(between(curve, 2), 20);
  assert.ok([0.9, 3, 4, 4.1].every(at => Number.isNaN(between(curve, at))));
});

const thickness: Control = {
  ...{ control: 'thickness', of: 'cover', label: 'thickness of cover', units: 'mm' },
  ...{ low: 0.2, high: 6, step: 0.05, bench: 3.017, fixed: '' }
};

test('a control goes in steps from its lower end, and to where the bench has it', () => {
  assert.equal(stepped(1.234, thickness), 1.25);
  assert.equal(stepped(99, thickness), 6);
  assert.equal(stepped(-1, thickness), 0.2);
  assert.equal(stepped(3.017, thickness), 3.017);
  assert.equal(stepped(3.02, thickness), 3);
  assert.equal(stepped(49.6, { ...thickness, low: 1, high: 100, step: 1, bench: 100 }), 50);
  assert.equal(stepped(0.3, { ...thickness, low: 0, high: 1, step: 0.1, bench: null }), 0.3);
});

test('a control is turned if it stands elsewhere than on the bench', () => {
  assert.equal(isTurned(3.017, thickness), false);
  assert.equal(isTurned(3, thickness), true);
  assert.equal(isTurned(3, { ...thickness, bench: null }), true);
  assert.equal(placeOf(3.1, thickness), 0.5);
  assert.equal(placeOf(9, thickness), 1);
});

test('values are written with their units, and no limit in words', () => {
  assert.equal(written(3.05, thickness), '3.05 mm');
  assert.equal(written(0, { control: 'time', units: 's' }), 'no limit');
  assert.equal(written(0, { control: 'hours', units: 'h' }), '0 h');
  assert.equal(written(null, thickness), 'not known');
});

test('what is fixed for all cannot be swept, and a thickness is that of a part', () => {
  const hours = { ...thickness, control: 'hours', of: 'arc', fixed: 'no log' } as const;
  const level = { ...thickness, control: 'level', of: 'arc' } as const;
  const other = { ...thickness, of: 'lens' };
  assert.deepEqual(sweepable([thickness, other, hours, level]), [
    { control: 'thickness', parts: ['cover', 'lens'] },
    { control: 'level', parts: [] }
  ]);
});

test('figures are cut at their decimals, and a unit that all have goes to the head', () => {
  const cell = (text: string, interval?: string) =>
    cellOf({ value: 0, units: '', text, ...(interval === undefined ? {} : { interval }) });
  assert.deepEqual(cell('22.3 mW/cm²', '16–30'), {
    ...{ words: '', whole: '22', decimals: '.3', units: 'mW/cm²', interval: '16–30' }
  });
  assert.deepEqual(
    [cell('2,690 µmol').whole, cell('44.9 °C').units, cell('21 %').units],
    ['2,690', '°C', '%']
  );
  assert.equal(cell('not known').words, 'not known');
  assert.deepEqual(columnOf([cell('884 W'), cell('22.35 W'), cell('not known')]), {
    ...{ units: 'W', whole: 3, decimals: 3 }
  });
  assert.equal(columnOf([cell('884 mW'), cell('1.2 W')]).units, '');
  assert.equal(cellOf(undefined).words, '');
});

test('of a comparison, what decides comes before what is weighed', () => {
  const judged = (verdict: string) => ({ verdict, reason: '', change: '' });
  const found = comparisonOf({
    sources: [
      {
        source: 'arc',
        place: 1,
        figures: {},
        criteria: { power: judged('no limit'), time: judged('not met') }
      }
    ],
    shown_criteria: ['power', 'time', 'mercury'],
    criteria: { time: { required: '', what: '' }, power: { required: '', what: '' } }
  });
  assert.ok(found);
  assert.deepEqual(criteriaOf(found), { judged: ['time'], weighed: ['power', 'mercury'] });
  assert.deepEqual([found.advice, found.shown_figures], [[], []]);
  assert.equal(comparisonOf({}), undefined);
  assert.equal(comparisonOf(null), undefined);
  assert.deepEqual(['met', 'not met', 'not known', 'no limit', 'other'].map(markOf), [
    '✓',
    '✗',
    '?',
    '–',
    '•'
  ]);
});

test('the cursor reads all strips in one line, units once', () => {
  const one = (label: string, y: number[]) => curve([300, 301], y, { label, units: 'mW' });
  const text = readings(300.2, [
    { caption: 'sent', curves: [one('arc', [1.2345, 2]), one('LED', [NaN, 1])] },
    { caption: 'passed', curves: [] }
  ]);
  assert.equal(text, '300.20 nm · sent: arc 1.23, LED not valid mW');
  assert.equal(
    readings(2, [{ caption: '', curves: [one('arc', [1, 2])] }], 'mm', 'thickness'),
    'thickness 2 mm · arc not valid mW'
  );
});

test('a curve is read at its nearest sample, and nowhere outside', () => {
  const one = curve([300, 301, 302], [1, 2, 3]);
  assert.equal(valueAt(one, 300.6), 2);
  assert.equal(valueAt(one, 302), 3);
  assert.ok(Number.isNaN(valueAt(one, 302.1)) && Number.isNaN(valueAt(one, 299)));
});

test('the first look goes where something happens', () => {
  const led = curve([200, 300, 390, 400, 410, 700], [0, 0, 1, 100, 3, 0]);
  const strip = { curves: [led], band: [320, 430] as const, dataSheet: 365, figures: {}, note: '' };
  assert.deepEqual(litRange(strip), [316, 434]);
  assert.deepEqual(litRange({ ...strip, band: [395, 405], dataSheet: null }), [391, 414]);
  assert.deepEqual(
    litRange({ ...strip, curves: [curve([300, 400], [NaN, NaN])], band: null, dataSheet: null }),
    [300, 400]
  );
});
