// Advice that one answer alone calls for, before anything is saved.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {findingsAtOnce} from '../../../static/clinical/index.js';

const told = (measure, fields) => findingsAtOnce(measure, {fields}, {}).map(({field, rule, level}) => [field, rule.split('.').at(-1), level]);

test('a reason to stop is answered at its field', () => {
  assert.deepEqual(told('activity_tolerance', {ended: 'stopped', stop_reason: 'chest_pain'}), [['stop_reason', 'stopped_grave', 'urgent_help']]);
  assert.deepEqual(told('activity_tolerance', {ended: 'stopped', stop_reason: 'dizzy'}), [['stop_reason', 'stopped_unwell', 'stop_and_seek_advice']]);
});

test('an end without a danger sign waits for the judgement', () => {
  assert.deepEqual(told('activity_tolerance', {ended: 'stopped', stop_reason: 'asked'}), []);
  assert.deepEqual(told('activity_tolerance', {ended: 'finished'}), []);
  assert.deepEqual(told('pulse', {rate: '190'}), []);
});

test('grave symptoms stand where they were told last', () => {
  const fields = {start: 'lying', rest_systolic: '130', rest_diastolic: '80', one_symptoms: ['none'], three_symptoms: ['chest_pain']};
  assert.deepEqual(told('postural_blood_pressure', fields), [['three_symptoms', 'grave_symptoms', 'urgent_help']]);
});

test('the sentence names what was chosen', () => {
  const [{because}] = findingsAtOnce('activity_tolerance', {fields: {ended: 'stopped', stop_reason: 'chest_pain'}}, {});
  assert.match(because, /Chest pain|chest pain/);
});
