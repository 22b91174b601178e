// Finding a client by a few letters.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {matches} from '../../../static/views/search.js';
import {card} from './helpers.mjs';

const called = (name, more = {}) => card({name, ...more});

test('asking for nothing, or for signs only, finds everyone', () => {
  for (const asked of ['', '   ', '-', ' . ']) assert.ok(matches(called('Ann Hill'), asked), `“${asked}”`);
});

test('accents and capitals make no difference, on either side', () => {
  for (const asked of ['zoe', 'ZOË', 'zoë', 'Zoe\u0308']) assert.ok(matches(called('Zoë Núñez'), asked), asked);
  assert.ok(matches(called('Zoe Nunez'), 'núñ'));
  assert.ok(matches(called('Jose\u0301'), 'josé'), 'written as letter and accent');
});

test('the beginning of a word finds, its middle does not', () => {
  assert.ok(matches(called('Marianne Oakley'), 'oak'));
  assert.ok(!matches(called('Marianne Oakley'), 'anne'));
});

test('a hyphen is the end of a word: either half finds, and both with or without it', () => {
  for (const asked of ['jean', 'luc', 'jean-luc', 'jean luc', 'Jean–Luc']) {
    assert.ok(matches(called('Jean-Luc Baptiste'), asked), asked);
  }
  assert.ok(!matches(called('Jean-Luc Baptiste'), 'jean-paul'));
});

test('every word asked for has to be there, in any order', () => {
  assert.ok(matches(called('Ann Hill'), 'hill a'));
  assert.ok(!matches(called('Ann Hill'), 'ann dale'));
});

test('names in other scripts are found by their beginning', () => {
  assert.ok(matches(called('فاطمة الزهراء'), 'فاط'));
  assert.ok(matches(called('فَاطِمَة الزهراء'), 'فاطمة'), 'vowel signs make no difference');
  assert.ok(matches(called('רות כהן'), 'כהן'));
  assert.ok(!matches(called('רות כהן'), 'כץ'));
  assert.ok(matches(called('Ольга'), 'оль'));
});

test('the name one is called by, the street, its number and what to know are searched', () => {
  const client = called('Margaret Hill', {preferred_name: 'Peggy', details: {address: '14 Lower Mill Lane'},
    precautions: [{code: 'oxygen_at_home', text: 'Concentrator in the hall'}]});
  for (const asked of ['peg', 'mill', '14', 'oxygen', 'concentr', 'peggy oxygen']) assert.ok(matches(client, asked), asked);
  assert.ok(!matches(client, '15'));
});

test('a client of whom only the id is known breaks nothing', () => {
  assert.ok(!matches(card(), 'ann'));
  assert.ok(matches(card(), ''));
  assert.ok(matches(card({precautions: [{code: 'from_a_newer_version', text: 'Ring twice'}]}), 'ring'));
});

test('letters that stand for themselves are found by the plain ones, and a missing text by nothing', () => {
  assert.ok(matches(called('Łucja Wrzosek'), 'lucja'));
  assert.ok(matches(called('Søren Groß'), 'soren gross'));
  assert.ok(matches(called('Iris Vale'), 'iris'));
  assert.ok(!matches(called('Ann Hill', {precautions: [{code: 'hearing'}]}), 'undefined'));
});
