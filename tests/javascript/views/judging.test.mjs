// What a reading is called by, and what a visit comes to, from its entries.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {gravest, gravestFirst, judgeVisit, stillHolds, withGravest} from '../../../static/views/judging.js';
import {TODAY, corrected, entry, pulse, takenBack} from './helpers.mjs';

const finding = (rule, level, against = 'adult_range') => ({rule, level, against, word: `Word of ${rule}`});
const rules = (findings) => findings.map(({rule}) => rule);
const judged = (...entries) => judgeVisit(entries, 'v1', {});
const levelOf = (rate) => judged(pulse(rate, {visit: 'v1'})).byMeasure.pulse.level;

test('the gravest finding speaks; with none grave the one against the adult range', () => {
  assert.equal(gravest([]), null);
  assert.equal(gravest([finding('a', 'go_on'), finding('b', 'urgent_help', 'caution'), finding('c', 'take_care')]).rule, 'b');
  assert.equal(gravest([finding('change', 'note', 'baseline'), finding('range', 'go_on')]).rule, 'range');
  assert.equal(gravest([finding('change', 'take_care', 'baseline'), finding('range', 'go_on')]).rule, 'change');
  assert.equal(gravest([finding('own', 'note', 'target')]).rule, 'own', 'nothing against the adult range');
});

test('of two equally grave the first speaks', () => {
  assert.equal(gravest([finding('a', 'take_care', 'target'), finding('b', 'take_care')]).rule, 'a');
});

test('findings are read from the gravest down, and the list given stays as it was', () => {
  const given = [finding('calm', 'go_on', 'target'), finding('care', 'take_care'), finding('help', 'urgent_help', 'caution')];
  assert.deepEqual(rules(gravestFirst(given)), ['help', 'care', 'calm']);
  assert.deepEqual(rules(given), ['calm', 'care', 'help']);
  assert.deepEqual(gravestFirst([]), []);
});

test('a judgement without findings has no word and an unknown level', () => {
  assert.deepEqual(withGravest({findings: []}), {judgement: {findings: []}, level: 'unknown', word: ''});
});

test('a value at a limit and one beside it', () => {
  const expected = {59: 'note', 60: 'go_on', 100: 'go_on', 101: 'take_care', 130: 'take_care', 131: 'stop_and_seek_advice'};
  assert.deepEqual(Object.fromEntries(Object.keys(expected).map((rate) => [rate, levelOf(rate)])), expected);
});

test('a visit without readings concludes nothing good: everything is missing', () => {
  const {byMeasure, judgements, conclusion} = judged(entry('visit_started', {first: false}, {visit: 'v1'}));
  assert.deepEqual([byMeasure, judgements], [{}, []]);
  assert.ok(conclusion.missing.includes('pulse'));
});

test('a correction is judged in place of what it corrects; what was taken back is not judged', () => {
  const wrong = pulse('140', {visit: 'v1'});
  const right = corrected(wrong, {...wrong.body, fields: {...wrong.body.fields, rate: '72'}});
  assert.equal(judged(wrong).conclusion.conclusion, 'stop_and_seek_advice');
  assert.equal(judged(wrong, right).byMeasure.pulse.level, 'go_on');
  assert.ok(!judged(wrong, right).conclusion.reasons.some(({measure}) => measure === 'pulse'));
  const gone = judged(wrong, takenBack(wrong));
  assert.equal(gone.byMeasure.pulse, undefined);
  assert.ok(gone.conclusion.missing.includes('pulse'));
});

test('not measured is recorded, but no reading', () => {
  const {bodies, byMeasure} = judged(entry('pulse', {not_measured: {reason: 'declined', note: ''}}, {visit: 'v1'}));
  assert.deepEqual([Object.keys(bodies), byMeasure], [['pulse'], {}]);
});

test('looking back, the age is that of the day of the visit', () => {
  const born = entry('details', {set: {birth_date: '1950-06-15'}, seen: {}});
  const then = pulse('70', {visit: 'v1', recorded_at: '2020-06-14T10:00:00.000Z'});
  assert.equal(judged(born, then).context.age, 69);
  assert.equal(judged(born, pulse('70', {visit: 'v1', recorded_at: `${TODAY}T10:00:00.000Z`})).context.age, 76);
});

test('a conclusion holds while it knew every reason there is now', () => {
  const recorded = {body: {reasons: ['pulse.fast', 'pulse.weak']}};
  const now = (...names) => ({reasons: names.map((rule) => ({rule}))});
  assert.ok(stillHolds(recorded, now('pulse.weak', 'pulse.fast')));
  assert.ok(!stillHolds(recorded, now('pulse.fast')));
  assert.ok(!stillHolds(recorded, now('pulse.fast', 'pulse.weak', 'temperature.fever')));
  assert.ok(stillHolds({body: {reasons: []}}, now()));
});
