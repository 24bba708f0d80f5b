import assert from 'node:assert/strict';
import { test } from 'node:test';

import { matching, onItsOwnLine, pieces, sectionsOf, type PublicName } from '../src/model/names.js';

function named(name: string, first = '', docstring = ''): PublicName {
  return { name, called: `sb.${name}()`, first, docstring, call: `sb.${name}()` };
}

const names = [
  named('absorbance', 'Decadic absorbance of a transmittance.'),
  named('cure_depth', 'Depth to which a resin gels.'),
  named('scale_thickness', 'Another thickness.'),
  named('transmittance', 'What a sample passes.'),
  named('wetted', 'Of a wetted face.', 'The transmittance in air is taken apart.')
];

function found(query: string): string[] {
  return matching(names, query).map(one => one.name);
}

test('an empty query leaves all names in their order', () => {
  assert.deepEqual(
    found('  '),
    names.map(one => one.name)
  );
});

test('a name of its own comes before what only speaks of it', () => {
  assert.deepEqual(found('trans'), ['transmittance', 'absorbance', 'wetted']);
  assert.deepEqual(found('sb.transmittance('), ['transmittance', 'absorbance', 'wetted']);
});

test('all words have to fit, wherever they stand', () => {
  assert.deepEqual(found('depth cure'), ['cure_depth']);
  assert.deepEqual(found('thick'), ['scale_thickness']);
  assert.deepEqual(found('cure thickness'), []);
});

test('a docstring falls into its sections', () => {
  const text = [
    'First line.',
    '',
    'More of it,',
    'over two lines.',
    '',
    'And a second paragraph.',
    '',
    'Parameters',
    '----------',
    'low, high : float',
    '    Limits',
    '    of the band [nm].',
    '*layers : array',
    '    What is passed.',
    '',
    'Notes',
    '-----',
    'By a rule.',
    '',
    'Examples',
    '--------',
    '>>> 1 + 1',
    '2'
  ].join('\n');
  assert.deepEqual(sectionsOf(text), [
    { kind: 'prose', heading: '', paragraphs: ['More of it, over two lines.', 'And a second paragraph.'] },
    {
      kind: 'entries',
      heading: 'Parameters',
      entries: [
        { term: 'low, high : float', text: 'Limits of the band [nm].' },
        { term: '*layers : array', text: 'What is passed.' }
      ]
    },
    { kind: 'prose', heading: 'Notes', paragraphs: ['By a rule.'] },
    { kind: 'code', heading: 'Examples', text: '>>> 1 + 1\n2' }
  ]);
  assert.deepEqual(sectionsOf('One line.'), []);
});

test('what stands in backticks is code', () => {
  assert.deepEqual(pieces('with ``draws`` or `seed`.'), ['with ', 'draws', ' or ', 'seed', '.']);
  assert.deepEqual(pieces('plain'), ['plain']);
});

test('a call goes onto a line of its own, where the cursor is', () => {
  assert.equal(onItsOwnLine('sb.read(path)', '', ''), 'sb.read(path)');
  assert.equal(onItsOwnLine('sb.read(path)', '', 'x = 1'), 'sb.read(path)\n');
  assert.equal(onItsOwnLine('sb.read(path)', 'x = 1', ''), '\nsb.read(path)');
  assert.equal(onItsOwnLine('sb.read(path)', '    x = 1', '; y'), '\n    sb.read(path)\n    ');
  assert.equal(onItsOwnLine('sb.read(path)', '    ', 'x = 1'), 'sb.read(path)\n    ');
});
