// What is typed into a described form becomes a body; what is shown goes by the type of place.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {chapterPicture} from '../../../static/charts/chapters.js';
import {begunIn, bodyFrom, changeOf, draftOf, rawFrom, shownFields, valuesOf, withDraft} from '../../../static/views/described/form_state.js';
import {targetFrom} from '../../../static/views/described/standing.js';

const TODAY = '2026-11-25';
const typed = (kind, raw, place = {}) => bodyFrom(kind, {...rawFrom(kind), ...raw}, {today: TODAY, ...place});
const wrong = ({errors}) => errors.map(({field, code}) => [field, code]);
const STANDING = {item: 'a1', fields: {name: 'Socks', code: 'd540', why: 'Cold feet'}, seen: {name: ['e1'], code: ['e1'], why: ['e2', 'e3']}};

test('a new item carries what was filled in, trimmed, and had seen nothing', () => {
  const {body, errors} = typed('activity', {name: '  Socks ', code: 'd540'});
  assert.deepEqual(errors, []);
  assert.deepEqual(body, {item: null, set: {name: 'Socks', code: 'd540'}, seen: {}});
});

test('a change sets only what changed, clears what was emptied, and names what it had seen', () => {
  const raw = {...rawFrom('activity', STANDING.fields), why: ' ', matters: 'most'};
  const {body, errors} = bodyFrom('activity', raw, {item: STANDING, today: TODAY});
  assert.deepEqual(errors, []);
  assert.deepEqual(body, {item: 'a1', set: {matters: 'most', why: null}, seen: {why: ['e2', 'e3']}});
});

test('an untouched form changes nothing and says so', () => {
  assert.deepEqual(wrong(bodyFrom('activity', rawFrom('activity', STANDING.fields), {item: STANDING, today: TODAY})), [['', 'nothing']]);
});

test('lengths keep the unit they were measured in; a comma is read, a word is not', () => {
  const door = {name: 'Door', type: 'entrance'};
  const {body} = typed('place', {...door, rise: {value: '15,5', unit: '[in_i]'}});
  assert.deepEqual(body.set.rise, {value: '15.5', unit: '[in_i]'});
  assert.deepEqual(wrong(typed('place', {...door, rise: {value: 'high', unit: 'cm'}, steps: '1.5'})), [['rise', 'not_a_number'], ['steps', 'too_many_decimals']]);
});

test('errors stand in the order of the form', () => {
  assert.deepEqual(wrong(typed('equipment', {check_on: '2026-02-30'})), [['name', 'required'], ['lent_on', 'required'], ['check_on', 'not_a_day']]);
});

test('a place shows the measures of its type, and what does not show is not kept', () => {
  const ids = (type) => shownFields('place', {type}).map(({id}) => id);
  assert.ok(ids('toilet').includes('seat_height') && !ids('toilet').includes('rise'));
  assert.ok(ids('stairs').includes('rise') && !ids('stairs').includes('seat_height'));
  assert.deepEqual(Object.keys(typed('place', {name: 'Chair', type: 'seat', steps: '3'}).body.set), ['name', 'type']);
});

test('an observation is about an item and has no empty answers', () => {
  const {body} = typed('activity_rating', {difficulty: '8', told_by: 'carer'}, {about: 'a1'});
  assert.deepEqual(body, {about: 'a1', fields: {difficulty: '8', told_by: 'carer'}});
});

test('what there is once never names itself', () => {
  assert.deepEqual(changeOf('reassessment', {date: '2027-01-01'}, {item: 'reassessment', seen: {date: ['x1']}}),
    {item: null, set: {date: '2027-01-01'}, seen: {date: ['x1']}});
});

test('a target needs a value, an end, ends in order and who set it', () => {
  const given = {field: 'blood_pressure.systolic', low: '', high: '150', set_by: 'Dr Rowley', note: ''};
  assert.deepEqual(targetFrom(given).body, {measure: 'blood_pressure', field: 'systolic', low: null, high: '150', set_by: 'Dr Rowley', note: null});
  const problem = (more) => targetFrom({...given, ...more}).problem?.field;
  assert.equal(problem({field: ''}), 'field');
  assert.equal(problem({high: ''}), 'low');
  assert.equal(problem({low: '151'}), 'low');
  assert.equal(problem({low: '150'}), undefined);
  assert.equal(problem({high: 'high'}), 'high');
  assert.equal(problem({set_by: ' '}), 'set_by');
});

test('the picture has a row a chapter, a mark for each degree there is, and keeps inside its frame', () => {
  const none = {0: 0, 1: 0, 2: 0, 3: 0, 4: 0, 8: 0, 9: 0};
  const picture = chapterPicture(['0', '1', '2', '3', '4'], [{chapter: 'd4', label: 'Mobility', now: {...none, 3: 1, 8: 2}, before: {...none, 4: 30}},
    {chapter: 'd5', label: 'Self-care', now: none, before: none}]);
  assert.equal(picture.rows.length, 2);
  assert.deepEqual(picture.rows[0].now.map(({count, x}) => [count, x === picture.columns[3].x]), [[1, true]]);
  assert.deepEqual(picture.rows[0].before.map(({count, r}) => [count, r]), [[30, 16]]);
  assert.deepEqual(picture.rows[1].now, []);
  assert.ok(picture.rows.at(-1).line + 28 + 16 <= picture.height && picture.columns.at(-1).x + 16 < picture.width);
});

test('a draft says what stood when it was typed: what a colleague changed since was not seen', () => {
  const kept = {why: draftOf(STANDING, 'why', 'Warm feet')};
  const since = {...STANDING, fields: {...STANDING.fields, name: 'Stockings', why: 'Cold toes'}, seen: {...STANDING.seen, name: ['e8'], why: ['e9']}};
  const base = withDraft(since, kept);
  const {body} = bodyFrom('activity', {...rawFrom('activity', since.fields), ...valuesOf(kept)}, {item: base, today: TODAY});
  assert.deepEqual(body, {item: 'a1', set: {why: 'Warm feet'}, seen: {why: ['e2', 'e3']}});
});

test('what is begun in a section is found by its draft, a new one and one that changes', () => {
  const keys = ['c1/described:v1:goal:new', 'c1/described:v1:goal:g1', 'c1/described:v1:activity:new', 'c1/described:v2:goal:new', 'c1/v1:pulse'];
  assert.deepEqual(begunIn(keys, {client: 'c1', visit: 'v1'}, ['goal', 'goal_review']), [{kind: 'goal', item: null}, {kind: 'goal', item: 'g1'}]);
  assert.deepEqual(begunIn(keys, {client: 'c1', visit: null}, ['goal']), []);
});

test('rules for one client are a list: changed when another is chosen, not by their order, cleared when none is left', () => {
  const why = 'Paid for privately';
  const {body, errors} = typed('client_rules', {left_out: ['changed', 'goal_review'], why});
  assert.deepEqual(errors, []);
  assert.deepEqual(body, {item: null, set: {left_out: ['changed', 'goal_review'], why}, seen: {}});
  const standing = {item: 'client_rules', fields: body.set, seen: {left_out: ['e1'], why: ['e1']}};
  const again = (list) => bodyFrom('client_rules', {...rawFrom('client_rules', standing.fields), left_out: list}, {item: standing, today: TODAY});
  assert.deepEqual(wrong(again(['goal_review', 'changed'])), [['', 'nothing']]);
  assert.deepEqual(again(['changed']).body, {item: null, set: {left_out: ['changed']}, seen: {left_out: ['e1'], why: ['e1']}});
  assert.deepEqual(again([]).body.set, {left_out: null});
});

test('a field that a single one never had can be filled in later', () => {
  const standing = {item: 'care_period', fields: {starts_on: '2026-11-01'}, seen: {starts_on: ['e1']}};
  const raw = {...rawFrom('care_period', standing.fields), ends_on: '2027-01-30'};
  const {body, errors} = bodyFrom('care_period', raw, {item: standing, today: TODAY});
  assert.deepEqual(errors, []);
  assert.deepEqual(body, {item: null, set: {ends_on: '2027-01-30'}, seen: {starts_on: ['e1']}});
});

test('an own rule asks for the number its kind needs', () => {
  const rule = {name: 'Every ten days', why: 'New hip'};
  assert.deepEqual(wrong(typed('reassessment_rule', {...rule, type: 'every_days'})), [['days', 'required']]);
  assert.deepEqual(typed('reassessment_rule', {...rule, type: 'after_visits', visits: '5', days: '3'}).body.set, {...rule, type: 'after_visits', visits: '5'});
});
