// The steps of a guided form, and what is due at a visit.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {measures} from '../../../static/clinical/index.js';
import {dueWords} from '../../../static/views/described/due.js';
import {momentOf, stepOfField, stepsOf} from '../../../static/views/forms/steps.js';

test('only a measure with moments has steps, and each of its fields belongs to one', () => {
  assert.deepEqual(stepsOf(measures.pulse), []);
  const posture = measures.postural_blood_pressure;
  assert.deepEqual(stepsOf(posture).map(({id}) => id), ['how', 'rest', 'one', 'three', 'end']);
  for (const measure of Object.values(measures).filter(({moments}) => moments)) {
    const steps = new Set(stepsOf(measure).map(({id}) => id));
    assert.ok(measure.fields.every(({id}) => steps.has(stepOfField(measure, id))), measure.id);
    assert.equal(stepsOf(measure).at(-1).id, 'end', 'what saves stands last');
  }
});

test('a step may be a moment that goes by a clock', () => {
  const {activity_tolerance: activity} = measures;
  assert.equal(momentOf(activity, 'task'), null);
  assert.equal(momentOf(activity, 'before'), null);
  assert.deepEqual([momentOf(activity, 'two').clock.id, momentOf(activity, 'two').moment.seconds], ['recovery', 120]);
});

test('a stop names fields and clocks that are there', () => {
  for (const {id, clocks = [], fields} of Object.values(measures)) {
    const known = new Set(fields.map((field) => field.id));
    for (const {stop_now: stop} of clocks.filter((clock) => clock.stop_now)) {
      assert.ok([stop.after, stop.ended, stop.ask].every((field) => known.has(field)), id);
      assert.ok(stop.starts === undefined || clocks.some((clock) => clock.id === stop.starts), id);
    }
  }
});

test('with nothing described nothing is due', () => {
  assert.deepEqual(dueWords([], 'v1'), {});
});
