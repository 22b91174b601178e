// Readings, targets and chains of corrections in words and figures; the scale under a reading.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {judgeReading} from '../../../static/clinical/index.js';
import {scaleFor} from '../../../static/charts/scale.js';
import {chainOf, entryTitle, figureOf, scaleOf, targetRange} from '../../../static/views/reading_words.js';
import {corrected, entry, pulse, takenBack} from './helpers.mjs';

const ids = (entries) => entries.map(({id}) => id);
const target = (low, high) => ({measure: 'blood_pressure', field: 'systolic', low, high});
const scaleWith = (rate, context) => scaleOf('pulse', judgeReading('pulse', pulse(rate).body, context), {targets: [], ...context});

test('a target with both ends, and with either end open', () => {
  assert.equal(targetRange(target('120', '150')), '120 to 150 mmHg');
  assert.equal(targetRange(target(null, '150')), '150 mmHg or less');
  assert.equal(targetRange(target('120', null)), '120 mmHg or more');
});

test('a chain: the original, each correction, and what took it back, asked for by any of its links', () => {
  const original = pulse('70');
  const second = corrected(original, original.body);
  const third = corrected(second, original.body);
  const last = takenBack(third);
  const entries = [last, pulse('90'), third, original, second];
  for (const link of [original, second, third, last]) {
    assert.deepEqual(ids(chainOf(entries, link.id)), ids([original, second, third, last]));
  }
});

test('two corrections of one entry both belong to its chain', () => {
  const original = pulse('70');
  const [one, two] = [corrected(original, original.body), corrected(original, original.body)];
  assert.deepEqual(ids(chainOf([original, one, two], two.id)), ids([original, one, two]));
});

test('an unknown id has no chain; a correction whose original is not here stands alone', () => {
  assert.deepEqual(chainOf([], 'x'), []);
  assert.deepEqual(chainOf([pulse('70')], 'x'), []);
  const orphan = corrected(pulse('70'), {});
  assert.deepEqual(ids(chainOf([orphan], orphan.id)), [orphan.id]);
});

test('an entry is named by its kind and by what it does', () => {
  const original = pulse('70');
  assert.deepEqual([original, corrected(original, {}), takenBack(original)].map(entryTitle),
    ['Pulse', 'Pulse, corrected', 'Pulse, taken back']);
  assert.equal(entryTitle(entry('visit_planned', {})), 'Planned visit');
  assert.match(entryTitle(entry('tongue_strength', {})), /newer version/);
});

test('the figure of a reading, and of one that was not taken', () => {
  const pressure = {fields: {method: 'automatic', posture: 'sitting',
    readings: [{arm: 'left', systolic: '128', diastolic: '76'}]}, units: {}, technique: [], confirmed: []};
  assert.equal(figureOf('blood_pressure', pressure), '128/76 mmHg');
  assert.match(figureOf('pulse', pulse('72').body), /^72 \/min, /);
  assert.equal(figureOf('pulse', {not_measured: {reason: 'declined', note: ''}}), 'Not measured');
});

test('the scale shows the range a calm reading would lie in, also under one that is not', () => {
  for (const rate of ['72', '100', '140']) {
    const {value, low, high, target: own, baseline} = scaleWith(rate, {});
    assert.deepEqual([value, low, high, own, baseline], [rate, '60', '100', null, null]);
  }
});

test('the scale shows the client\'s own target, with its open end, and no other field\'s', () => {
  const own = {measure: 'pulse', field: 'rate', low: null, high: '110', set_by: 'doctor'};
  assert.deepEqual(scaleWith('104', {targets: [target('120', '150'), own]}).target, own);
  assert.equal(scaleWith('104', {targets: [target('120', '150')]}).target, null);
});

test('the scale shows the baseline once there is one', () => {
  const history = {pulse: ['70', '72', '74'].map((rate) => ({rate}))};
  assert.equal(scaleWith('72', {history}).baseline, '72');
  assert.equal(scaleWith('72', {history: {pulse: []}}).baseline, null);
});

test('a reading without a number has no scale', () => {
  assert.equal(scaleOf('pulse', {facts: {}, findings: []}, {targets: []}), null);
});

test('everything drawn lies inside the scale, in order', () => {
  const calm = {value: 110, low: 90, high: 120, target: {low: 100, high: null}, baseline: 105};
  for (const far of [{value: 180}, {low: 60}, {high: 181}, {target: {low: null, high: 182}}, {baseline: 183}, {baseline: 61}]) {
    const facts = {...calm, ...far};
    const {at} = scaleFor(facts, 320);
    const marks = [facts.value, facts.low, facts.high, facts.target.low, facts.target.high, facts.baseline].filter((mark) => mark !== null);
    const places = marks.toSorted((one, other) => one - other).map(at);
    assert.ok(places[0] > 0 && places.at(-1) < 320, `${JSON.stringify(far)}: ${places.join(' ')}`);
    assert.deepEqual(places, places.toSorted((one, other) => one - other));
  }
});

test('a value equal to its limit lies on it, and ends map to the ends', () => {
  const {at, from, to} = scaleFor({value: 100, low: 60, high: 100}, 320);
  assert.equal(at(100), at(Number('100')));
  assert.deepEqual([at(from), at(to), at((from + to) / 2)], [0, 320, 160]);
});

test('a lone value stands in the middle, nought and a decimal too', () => {
  for (const value of [72, 0, 36.8]) assert.ok(Math.abs(scaleFor({value, low: null, high: undefined, target: null}, 320).at(value) - 160) < 1e-6);
});

test('limits of nought are limits, not absent ones', () => {
  const {from} = scaleFor({value: 5, low: 0, high: 10}, 100);
  assert.ok(from < 0, String(from));
});

test('a loop of corrections, as only a broken device makes, ends', () => {
  const one = {id: 'a', amends: 'b', voids: null};
  const other = {id: 'b', amends: 'a', voids: null};
  assert.equal(chainOf([one, other], 'a').length, 2);
});

test('a target without limits says so', () => {
  assert.equal(targetRange({measure: 'pulse', field: 'rate', low: null, high: null}), 'no limits given');
});
