// What a newer version recorded is set aside with all it corrects, and nothing else is.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {measures} from '../../../static/clinical/index.js';
import {NEWER, sortByVersion} from '../../../static/views/kinds.js';
import {entryTitle} from '../../../static/views/reading_words.js';

const entry = (id, kind, more = {}) => ({id, kind, schema: 1, amends: null, voids: null, ...more});
const ids = (list) => list.map(({id}) => id);
const sorted = (...entries) => {
  const {known, newer} = sortByVersion(entries);
  return [ids(known), ids(newer)];
};

test('an unknown kind, and a known one in a newer schema', () => {
  const later = measures.pulse.schema + 1;
  assert.deepEqual(sorted(entry('a', 'note'), entry('b', 'not_known_yet'), entry('c', 'pulse', {schema: later}),
    entry('d', 'pulse', {schema: later - 1}), entry('e', 'constructor')), [['a', 'd'], ['b', 'c', 'e']]);
  assert.equal(entryTitle(entry('c', 'pulse', {schema: later})), NEWER);
});

test('what a newer entry corrects no longer stands, through every correction before it', () => {
  assert.deepEqual(sorted(entry('a', 'note'), entry('b', 'note', {amends: 'a'}), entry('c', 'note', {amends: 'b', schema: 9}),
    entry('d', 'note')), [['d'], ['c']]);
});

test('a loop that a broken device made does not hold the screen', () => {
  assert.deepEqual(sorted(entry('a', 'note', {amends: 'b', schema: 9}), entry('b', 'note', {amends: 'a', schema: 9})), [[], ['a', 'b']]);
});
