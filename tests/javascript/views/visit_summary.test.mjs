// What a visit comes to before it is signed: nothing recorded is missing from it, nothing of another visit is in it.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {signedWords} from '../../../static/views/finish.js';
import {judgeVisit} from '../../../static/views/judging.js';
import {visitParts} from '../../../static/views/visit_steps.js';
import {visitSummary} from '../../../static/views/visit_summary.js';
import {entry, pulse, takenBack} from './helpers.mjs';

const V = {visit: 'v1'};
const summary = (entries) => visitSummary(entries, 'v1', visitParts(entries, 'v1'), judgeVisit(entries, 'v1', {}).byMeasure);
const item = (kind, set, more = V, own = null, seen = {}) => entry(kind, {item: own, set, seen}, more);

test('what was measured stands with its figure and word, what was left out with its reason', () => {
  const refused = entry('temperature', {not_measured: {reason: 'refused', note: 'Too tired'}}, V);
  const {recorded, left} = summary([pulse('72', V), refused]);
  assert.deepEqual(recorded.map(({id}) => id), ['pulse']);
  assert.match(recorded[0].figure, /72 \/min/);
  assert.equal(left.find(({id}) => id === 'temperature').why, 'Client did not want it: Too tired');
  assert.equal(left.find(({id}) => id === 'blood_pressure').why, 'No reason given');
});

test('what was described stands under its section, with what is new, changed or ended', () => {
  const socks = item('activity', {name: 'Socks', code: 'd540'}, {visit: 'v0'});
  const rail = item('equipment', {name: 'Rail', lent_on: '2026-11-01'}, {visit: 'v0'});
  const entries = [socks, rail, item('activity', {why: 'Cold feet'}, V, socks.id),
    entry('activity_rating', {about: socks.id, fields: {difficulty: '1', told_by: 'client'}}, V),
    item('equipment', {ended: {how: 'returned', day: '2026-11-25'}}, V, rail.id),
    item('hazard', {name: 'Rug'}), item('reassessment', {date: '2027-01-04', reason: 'x'})];
  const {described} = summary(entries);
  assert.deepEqual(described.map(({title}) => title), ['Daily life', 'Home', 'Plan']);
  assert.deepEqual(described[0].lines, [{lead: 'Socks', side: 'Activity, changed'}, {lead: 'Socks', side: 'Difficulty: mild'}]);
  assert.equal(described[1].lines[0].lead, 'Rail');
  assert.match(described[1].lines[0].side, /^Returned, \w+/);
  assert.deepEqual(described[1].lines[1], {lead: 'Rug', side: 'Hazard, new'});
  assert.equal(described[2].lines[0].lead, 'Next reassessment');
  assert.match(described[2].lines[0].side, /4 Jan/);
});

test('what was taken back, or belongs to another visit, is not signed', () => {
  const rug = item('hazard', {name: 'Rug'});
  assert.deepEqual(summary([rug, takenBack(rug), item('hazard', {name: 'Mat'}, {visit: 'v2'})]).described, []);
});

test('precautions and targets of the visit stand in the plan: set, and ended with the reason', () => {
  const old = entry('precaution', {code: 'falls_risk', text: null});
  const target = entry('target', {measure: 'blood_pressure', field: 'systolic', low: null, high: '150', set_by: 'Dr Rowley', note: null}, V);
  const end = {day: '2026-11-25', why: 'Walks safely'};
  const ended = entry('precaution', {...old.body, ended: end}, {...V, amends: old.id, reason: end.why});
  const wrong = entry('precaution', {code: 'hearing', text: null});
  const back = entry('precaution', {}, {...V, voids: wrong.id, reason: 'Somebody else'});
  const {lines} = summary([old, target, ended, wrong, back]).described[0];
  assert.deepEqual(lines, [{lead: 'Risk of falling', side: 'Ended: Walks safely'}, {lead: 'Systolic, 150 mmHg or less', side: 'Set'},
    {lead: 'Hearing', side: 'Taken back: Somebody else'}]);
});

test('who signed is named by the signature, or where the name is known', () => {
  const said = (author, body = {note: ''}) => signedWords({author, body, recorded_at: '2026-11-25T14:40:00.000Z', utc_offset: 0}, {id: 'me', name: 'Oriane'});
  assert.match(JSON.stringify(said('me')), /Oriane/);
  assert.match(JSON.stringify(said('other')), /a colleague/);
  assert.match(JSON.stringify(said('other', {note: '', signed_by: 'Tomasz'})), /Tomasz/);
});
