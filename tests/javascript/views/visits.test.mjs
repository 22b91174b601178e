// The round of a day, the visit one is in, and the parts of a visit.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {data, measureOrder} from '../../../static/clinical/index.js';
import {plannedOn, visitState} from '../../../static/views/planned.js';
import {currentVisit, draftKeyOf, openPart, visitEntry, visitParts, visitSections} from '../../../static/views/visit_steps.js';
import {ME, TODAY, card, corrected, entry, planned, pulse, takenBack, visit} from './helpers.mjs';

const started = {started: {id: 'begun'}};
const finished = {finished: {id: 'ended'}};
const current = (...visits) => currentVisit(card({visits}), TODAY, ME)?.visit ?? null;

test('the furthest a visit came is its state', () => {
  assert.equal(visitState(planned('v')), 'planned');
  assert.equal(visitState(planned('v', {measures: ['pulse']})), 'recorded');
  assert.equal(visitState(planned('v', {measures: ['pulse'], ...started})), 'started');
  assert.equal(visitState(planned('v', {...started, ...finished})), 'finished');
});

test('a day\'s round: of this day and this therapist only, by the clock, over all clients', () => {
  const one = card({client: 'one', visits: [planned('late', {time: '14:00'}), planned('other day', {date: '2026-11-26'})]});
  const two = card({client: 'two', visits: [planned('early', {time: '09:00', ...finished}), planned('of another', {therapist: 'x'}),
    visit('begun without a plan', started)]});
  assert.deepEqual(plannedOn([one, two], TODAY, ME).map(({id, time, state, card: {client}}) => [id, time, state, client]),
    [['early', '09:00', 'finished', 'two'], ['late', '14:00', 'planned', 'one']]);
});

test('no clients, and clients without visits, make an empty round', () => {
  assert.deepEqual(plannedOn([], TODAY, ME), []);
  assert.deepEqual(plannedOn([card(), card()], TODAY, ME), []);
});

test('a visit begun today is the one to go on with, planned or not', () => {
  assert.equal(current(planned('planned'), visit('begun', started)), 'begun');
  assert.equal(current(visit('begun', started)), 'begun');
});

test('with none begun, it is the one planned today, one\'s own before a colleague\'s', () => {
  assert.equal(current(planned('theirs', {therapist: 'x'}), planned('mine')), 'mine');
  assert.equal(current(planned('theirs', {therapist: 'x'})), 'theirs');
});

test('what is finished or of another day is not gone into', () => {
  assert.equal(current(), null);
  assert.equal(current(planned('done', {...started, ...finished})), null);
  assert.equal(current(planned('yesterday', {date: '2026-11-24', ...started}), planned('tomorrow', {date: '2026-11-26'})), null);
  assert.equal(current(planned('done', finished), planned('second')), 'second');
});

test('the parts of a visit stand in the data\'s order, whatever was recorded first', () => {
  const parts = visitParts([], 'v1');
  assert.deepEqual(parts.map(({id}) => id), measureOrder);
  assert.ok(parts.every((part) => part.entry === null && part.title));
});

test('a part shows the reading that stands, of this visit only', () => {
  const first = pulse('70', {visit: 'v1'});
  const better = corrected(first, {...first.body, fields: {...first.body.fields, rate: '72'}});
  const recorded = (entries) => visitParts(entries, 'v1').find(({id}) => id === 'pulse').entry?.id ?? null;
  assert.equal(recorded([first]), first.id);
  assert.equal(recorded([better, first]), better.id, 'in any order of arrival');
  assert.equal(recorded([first, better, takenBack(better)]), null);
  assert.equal(recorded([pulse('99', {visit: 'v2'})]), null);
  const again = pulse('80', {visit: 'v1', recorded_at: `${TODAY}T10:00:00.000Z`});
  assert.equal(recorded([first, again]), again.id, 'the later of two');
});

test('an entry of a kind in a visit: the newest that stands', () => {
  const begun = entry('visit_started', {first: true}, {visit: 'v1'});
  assert.equal(visitEntry([begun], 'v1', 'visit_started').id, begun.id);
  assert.equal(visitEntry([begun, takenBack(begun)], 'v1', 'visit_started'), null);
  assert.equal(visitEntry([begun], 'v2', 'visit_started'), null);
  assert.equal(visitEntry([], 'v1', 'visit_started'), null);
});

const place = {client: 'c', visit: 'v1'};
const sectionOf = (entries, id, drafts = []) => visitSections(entries, place, drafts).find((section) => section.id === id);

test('the visit lists the sections of the data, each measure once', () => {
  const listed = visitSections([], place, []);
  assert.deepEqual(listed.map(({id}) => id), data.visit.sections.map(({id}) => id));
  assert.deepEqual(listed.flatMap(({parts}) => parts.map(({id}) => id)).toSorted(), measureOrder.toSorted());
  const counting = listed.flatMap(({parts}) => parts).filter((part) => part.counts).map(({id}) => id);
  assert.deepEqual(counting, sectionOf([], 'vital_signs').parts.map(({id}) => id));
});

test('what has a draft on this phone is begun; a second measuring has a draft of its own', () => {
  const begun = (entries, drafts) => sectionOf(entries, 'vital_signs', drafts).parts.filter((part) => part.begun).map(({id}) => id);
  const recorded = pulse('70', {visit: 'v1'});
  const key = (rest) => `${place.client}/${rest}`;
  assert.deepEqual(begun([], [key('v1:pulse'), key('v2:temperature')]), ['pulse']);
  assert.deepEqual(begun([recorded], [key('v1:pulse')]), []);
  assert.deepEqual(begun([recorded], [key('v1:pulse:again')]), ['pulse']);
  assert.equal(draftKeyOf(place, {id: 'pulse', entry: recorded}), `${place.client}/v1:pulse:again`);
});

test('the next part is one the visit is not complete without', () => {
  const part = (id, counts, entry = null) => ({id, counts, entry});
  assert.equal(openPart([part('walk', false), part('pulse', true, {}), part('breathing', true)]).id, 'breathing');
  assert.equal(openPart([part('walk', false), part('pulse', true, {})]), undefined);
});

test('a section that is no measure is a line of data: its path, and how many entries of its kinds stand', (t) => {
  const line = {id: 'daily_life', title: 'Daily life', path: '{visit}/daily-life', kinds: ['note']};
  data.visit.sections.push(line, {id: 'home', title: 'Home', path: '{client}/home'});
  t.after(() => data.visit.sections.splice(-2));
  const note = entry('note', {text: 'x'}, {visit: 'v1'});
  const entries = [note, entry('note', {text: 'y'}, {visit: 'v2'}), takenBack(entry('note', {text: 'z'}, {visit: 'v1'}))].flat();
  const [daily, home] = visitSections(entries, place, []).slice(-2);
  assert.deepEqual(daily.screen, {path: '/app/client/c/visit/v1/daily-life', recorded: 1});
  assert.deepEqual(home.screen, {path: '/app/client/c/home', recorded: 0});
  assert.deepEqual(daily.parts, []);
});
