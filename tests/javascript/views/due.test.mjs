// What is due on the phone: lines, weeks, the badge's number, words, a visit for it, an own rule's dates.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {careFacts, data} from '../../../static/clinical/index.js';
import {keepBadge} from '../../../static/views/due/badge.js';
import {careOf, keepChanges} from '../../../static/views/due/changes.js';
import {badgeCount, byWeek, dueLines, firstOf, mondayOf, signatureOf} from '../../../static/views/due/due.js';
import {putOffWrong, rulesToChoose} from '../../../static/views/due/form_parts.js';
import {historyOf} from '../../../static/views/due/history.js';
import {keyFrom, keySegment} from '../../../static/views/due/keys.js';
import {firstDay, reasonFor, saysSo, visitFrom, visitWith} from '../../../static/views/due/placing.js';
import {roundsOf} from '../../../static/views/due/rounds.js';
import {countWords, groupTitle, ruleKind, stateWords} from '../../../static/views/due/words.js';
import {watchToday} from '../../../static/views/use_today.js';
import {ME, TODAY, card, entry, planned, takenBack, visit} from './helpers.mjs';

const SETTINGS = {calendar: {zone: 'UTC', weekend: [6, 7], holidays: []}, reassessment: {in_force: ['home_health_30_days']}};
const on = (day, kind, body, more) => entry(kind, body, {recorded_at: `${day}T09:00:00.000Z`, ...more});
const reassessed = (day) => on(day, 'reassessed', {about: null, fields: {scope: 'functional'}});
const cardOf = (client, entries, visits = []) => card({client, name: client, visits, ...careOf(entries, 'UTC')});
const item = (state, more) => ({state, due: TODAY, limit: more?.due === undefined ? TODAY : more.due, rule: 'changed', legal: false, ...more});
const linesOn = (today, ...cards) => dueLines(cards, SETTINGS, today);

test('the thirty days of the federal rule, on the phone: 14 October and 30 days is 13 November', () => {
  // 42 CFR 409.44(c)(2)(i)(C): at least every 30 calendar days. The day is counted on a calendar by hand.
  const [line] = linesOn('2026-11-13', cardOf('one', [reassessed('2026-10-14')]));
  assert.deepEqual([line.item.due, line.item.limit, line.item.state], ['2026-11-13', '2026-11-13', 'due']);
  assert.equal(linesOn('2026-11-14', cardOf('one', [reassessed('2026-10-14')]))[0].item.state, 'overdue');
  assert.equal(linesOn('2026-11-05', cardOf('one', [reassessed('2026-10-14')]))[0].item.state, 'later');
});

test('a card keeps what does not depend on the day: the same card says something else tomorrow', () => {
  const kept = JSON.parse(JSON.stringify(cardOf('one', [reassessed('2026-10-14')])));
  assert.deepEqual(['2026-11-12', '2026-11-13', '2026-11-14'].map((day) => linesOn(day, kept)[0].item.state), ['open', 'due', 'overdue']);
});

test('lines stand by day, then by name; each brings the next planned visit', () => {
  const late = cardOf('late', [reassessed('2026-10-14')]);
  const soon = cardOf('soon', [reassessed('2026-11-02')], [planned('done', {date: TODAY, finished: {id: 'f'}}), planned('next', {date: '2026-11-30'}), planned('first', {date: TODAY, time: '16:00'})]);
  const found = linesOn(TODAY, soon, late, cardOf('also', [reassessed('2026-11-02')]), cardOf('nobody', []));
  assert.deepEqual(found.map((line) => line.card.client), ['late', 'also', 'soon']);
  assert.equal(found[2].visit.visit, 'first');
  assert.equal(found[0].visit, null);
});

test('weeks begin on Monday, overdue stands first, what has no day and who is away last', () => {
  assert.deepEqual(['2026-11-22', '2026-11-23', '2026-11-29'].map(mondayOf), ['2026-11-16', '2026-11-23', '2026-11-23']);
  const lines = [item('away'), item('waiting', {due: null}), item('later', {due: '2026-12-09'}), item('later', {due: '2026-12-02'}),
    item('due', {due: '2026-11-20', limit: '2026-12-20'}), item('open', {due: '2026-11-29'}), item('overdue', {due: '2026-11-24'})].map((each) => ({item: each}));
  assert.deepEqual(byWeek(lines, TODAY).map((group) => [groupTitle(group), group.lines.length]),
    [['Overdue', 1], ['This week', 2], ['Next week', 1], ['Week of Mon 7 Dec', 1], ['No day yet', 1], ['Away', 1]]);
  assert.deepEqual(byWeek([], TODAY), []);
});

test('the badge counts what is due and overdue, nothing else', () => {
  const lines = ['overdue', 'due', 'due', 'open', 'later', 'waiting', 'away'].map((state) => ({item: item(state)}));
  assert.equal(badgeCount(lines), 3);
  assert.equal(countWords(lines), '1 overdue, 2 due, 1 can be done now.');
  assert.equal(countWords([]), 'Nothing is due now.');
});

test('the first to speak of is the most urgent, not the earliest', () => {
  const found = firstOf([item('open', {due: '2026-11-01'}), item('overdue', {due: '2026-11-20'}), item('overdue', {due: '2026-11-10'})].toSorted((one, other) => (one.due < other.due ? -1 : 1)));
  assert.equal(found.due, '2026-11-10');
  assert.equal(firstOf([]), null);
});

test('each state in words, with its day', () => {
  const said = (state, more) => stateWords(item(state, more), TODAY);
  assert.equal(said('due'), 'Due today');
  assert.match(said('due', {due: '2026-11-24', limit: '2026-11-26'}), /^Due now, by Thu 26 Nov at the latest$/);
  assert.equal(said('overdue', {limit: '2026-11-13'}), 'Overdue: was due by Fri 13 Nov');
  assert.equal(said('open', {due: '2026-11-27'}), 'Can be done now, by Fri 27 Nov');
  assert.equal(said('open', {due: null, limit: null}), 'Can be done at the next visit');
  assert.equal(said('waiting', {due: null}), 'No day yet');
  assert.equal(said('away', {due: null}), 'Away. The days wait');
  // Putting off a legal limit does not move it, and the words must not seem to say so.
  assert.equal(said('later', {due: '2026-12-10', limit: '2026-12-01', put_off: {}}), 'Put off to Thu 10 Dec, but the limit stays Tue 1 Dec');
});

test('who set a rule is told', () => {
  assert.deepEqual([item('due', {legal: true}), item('due'), item('due', {rule: 'own:e1'})].map(ruleKind),
    ['Legal limit', 'The service’s own choice', 'Rule for this client alone']);
});

test('a key survives the way through an address', () => {
  for (const key of ['changed', 'own:0192c-1', 'goal_review:e1']) assert.equal(keyFrom(keySegment(key)), key);
});

test('putting off goes to a later day than the one it has', () => {
  const until = (day, of) => putOffWrong(of, {fields: {until: day}}).map(({field}) => field);
  assert.deepEqual(until('2026-11-25', item('due')), ['until']);
  assert.deepEqual(until('2026-11-26', item('due')), []);
  assert.deepEqual(until('2026-11-27', item('later', {put_off: {until: '2026-11-27'}})), ['until']);
  assert.deepEqual(until('2026-11-01', null), []);
});

test('of the service\'s rules those in force can be left out, the others added, and an unknown choice stays', () => {
  const own = {id: 'two_weeks', title: 'Every two weeks'};
  const service = {in_force: ['two_weeks', 'changed'], rules: [own]};
  assert.deepEqual(rulesToChoose('left_out', service, ['from_a_newer_version']).map(({id}) => id), ['changed', 'two_weeks', 'from_a_newer_version']);
  const added = rulesToChoose('added', service, []).map(({id}) => id);
  assert.ok(added.includes('home_health_30_days') && !added.includes('two_weeks'));
  assert.deepEqual(rulesToChoose('left_out', {}, []).map(({id}) => id).sort(), [...data.reassessment.in_force].sort());
});

test('history: the newest first, with what was taken back, of these kinds only', () => {
  const first = reassessed('2026-10-14');
  const second = on('2026-11-02', 'postponement', {about: null, fields: {due: 'changed', until: '2026-11-09', reason: 'Away'}});
  const found = historyOf([first, second, takenBack(first), entry('goal', {item: null, set: {name: 'Hens'}, seen: {}})]);
  assert.deepEqual(found.map(({entry: {kind}, takenBack: gone}) => [kind, gone]), [['postponement', false], ['reassessed', true]]);
});

const calendar = {...SETTINGS.calendar, today: TODAY};

test('an own rule shows its dates from the real record, each round on the day of the one before', () => {
  const care = careFacts([reassessed('2026-11-16')], 'UTC');
  const rounds = roundsOf(care, {name: 'Fortnight', type: 'every_days', days: '14', why: 'Splint'}, calendar, 3);
  assert.deepEqual(rounds.map(({due}) => due), ['2026-11-30', '2026-12-14', '2026-12-28']);
  assert.equal(roundsOf(care, {type: 'every_days'}, calendar, 3), null);
});

test('an own rule by visits assumes visits to come and says a day; without a period there is none before its end', () => {
  const started = on('2026-11-16', 'visit_started', {first: true}, {visit: 'v1'});
  const care = careFacts([started], 'UTC');
  // The first visit counts as done; then weekly from today: 2, 9, 16 December are one, two, three.
  assert.equal(roundsOf(care, {type: 'after_visits', visits: '3'}, calendar, 1)[0].due, '2026-12-16');
  assert.deepEqual(roundsOf(care, {type: 'before_end', days: '7'}, calendar, 2), []);
  const period = on('2026-11-16', 'care_period', {item: null, set: {starts_on: '2026-11-16', ends_on: '2027-01-15'}, seen: {}});
  assert.deepEqual(roundsOf(careFacts([started, period], 'UTC'), {type: 'before_end', days: '7'}, calendar, 3).map(({due}) => due), ['2027-01-08']);
});

test('the day proposed is the due day, or the next working day when that has gone by', () => {
  assert.equal(firstDay(item('later', {due: '2026-11-30'}), calendar), '2026-11-30');
  assert.equal(firstDay(item('overdue', {due: '2026-11-13'}), calendar), TODAY);
  assert.equal(firstDay(null, {...calendar, today: '2026-11-28', holidays: ['2026-11-30']}), '2026-12-01');
});

const typed = {date: '2026-11-30', time: '09:30', minutes: '45', purpose: ' Look again '};
const place = {client: 'one', today: TODAY, therapist: ME};

test('a visit for it is one entry of a planned visit', () => {
  const {draft} = visitFrom(typed, place);
  assert.deepEqual({...draft, visit: null}, {kind: 'visit_planned', schema: 1, client: 'one', visit: null,
    body: {date: '2026-11-30', time: '09:30', minutes: 45, purpose: 'Look again', therapist: ME}});
});

test('what is wrong with a visit is said at its field', () => {
  for (const [change, field] of [[{date: ''}, 'date'], [{date: '2026-11-24'}, 'date'], [{date: '2026-02-30'}, 'date'], [{time: '24:00'}, 'time'], [{time: ''}, 'time'],
    [{minutes: '4'}, 'minutes'], [{minutes: '601'}, 'minutes'], [{minutes: '1e2'}, 'minutes'], [{purpose: 'x'.repeat(2001)}, 'purpose']]) {
    assert.equal(visitFrom({...typed, ...change}, place).problem.field, field, JSON.stringify(change));
  }
  for (const change of [{date: TODAY}, {minutes: '5'}, {minutes: '600'}, {purpose: 'x'.repeat(2000)}]) assert.ok(visitFrom({...typed, ...change}, place).draft);
});

test('a planned visit takes the reason besides its own, as a correction that names it', () => {
  const there = planned('v1');
  there.planned.id = 'p1';
  const reason = reasonFor([{title: 'Function'}, {title: 'Review of a goal', name: 'Hens'}]);
  assert.equal(reason, 'To be done: Function, Review of a goal: Hens');
  const changed = visitWith(there, 'one', reason);
  assert.deepEqual([changed.amends, changed.visit, changed.body.purpose], ['p1', 'v1', `Purpose of v1. ${reason}`]);
  assert.equal(saysSo(there, reason), false);
  assert.equal(saysSo({planned: {body: changed.body}}, reason), true);
});

function shelf(cards, {readOnly = []} = {}) {
  const listeners = new Set();
  const kept = new Map();
  const store = {
    made: 0,
    cards: async () => cards, cursor: async () => ({caseload: {read_only: readOnly}}),
    entriesOf: async (client) => cards.find((each) => each.client === client).entries,
    meta: async (key) => kept.get(key) ?? null, setMeta: async (key, value) => { kept.set(key, structuredClone(value)); },
    refreshCards: async () => { store.made += 1; },
    subscribe: (listener) => { listeners.add(listener); return () => listeners.delete(listener); },
    tell: (type) => { for (const listener of listeners) listener({type}); },
    listeners,
  };
  return store;
}

test('the badge shows the number, is cleared at zero, counts no team\'s client and changes with the day', async () => {
  const said = [];
  const browser = {setAppBadge: async (number) => said.push(number), clearAppBadge: async () => said.push('clear')};
  const store = shelf([cardOf('one', [reassessed('2026-10-14')]), cardOf('team', [reassessed('2026-10-14')])], {readOnly: ['team']});
  let day = '2026-11-12';
  let tomorrow;
  const badge = keepBadge({store, settings: SETTINGS, changes: {of: () => []}, browser, today: () => day, days: (tell) => { tomorrow = tell; return () => {}; }});
  await badge.show();
  assert.deepEqual(said, ['clear']);
  day = '2026-11-13';
  tomorrow();
  await badge.show();
  assert.deepEqual(said, ['clear', 1]);
  store.tell('saved');
  await badge.show();
  assert.deepEqual(said, ['clear', 1], 'the same number is not told twice');
  badge.stop();
  assert.equal(store.listeners.size, 0);
});

test('where the browser has no badge nothing is asked of it', async () => {
  const store = shelf([]);
  await keepBadge({store, settings: SETTINGS, changes: {of: () => []}, browser: {}}).show();
  assert.equal(store.listeners.size, 0);
});

test('a new day is told once, also when the timer slept through midnight', () => {
  const told = [];
  const page = new EventTarget();
  let now = new Date(2026, 10, 25, 23, 59);
  const stop = watchToday((day) => told.push(day), {now: () => now, page, timers: {setInterval: () => 1, clearInterval: () => {}}});
  const look = () => page.dispatchEvent(new Event('visibilitychange'));
  look();
  now = new Date(2026, 10, 26, 7, 0);
  look();
  look();
  stop();
  now = new Date(2026, 10, 27, 7, 0);
  look();
  assert.deepEqual(told, ['2026-11-26']);
});

test('the sum over ids tells an added, a withdrawn and another entry, in any order', () => {
  const [one, two, three] = ['a', 'b', 'c'].map((id) => ({id}));
  assert.equal(signatureOf([one, two]), signatureOf([two, one]));
  assert.equal(new Set([[one, two], [one], [one, three], [one, two, three], []].map(signatureOf)).size, 5);
});

// Real changes: a reading far from the client's own usual, judged at a visit. Two visits, the second much slower.
const speed = (day, id, seconds) => [on(day, 'visit_started', {first: false}, {visit: id}),
  on(day, 'timed_up_and_go', {fields: {seconds}, units: {}, technique: [], confirmed: []}, {visit: id})];

test('changes are worked out for cards with new entries only, kept, and told to the screens once', async () => {
  const entries = [...speed('2026-11-02', 'v1', '12.0'), ...speed('2026-11-16', 'v2', '25.0')];
  const settings = {...SETTINGS, reassessment: {in_force: ['changed']}};
  const one = {client: 'one', entries, ...careOf(entries, 'UTC')};
  const store = shelf([one]);
  const first = keepChanges({store, settings});
  await first.begin();
  assert.equal(await first.look(), true);
  assert.deepEqual(first.of('one').map(({day}) => day), ['2026-11-16']);
  assert.equal(await first.look(), false);
  assert.equal(store.made, 1);
  first.stop();
  const second = keepChanges({store, settings});
  await second.begin();
  assert.equal(second.of('one').length, 1, 'what was kept is there at the next start');
  one.entries = [...entries, reassessed('2026-11-20')];
  Object.assign(one, careOf(one.entries, 'UTC'));
  await second.look();
  assert.deepEqual(second.of('one'), []);
  second.stop();
});

test('a finished visit is no plan any more', () => {
  assert.equal(linesOn(TODAY, cardOf('one', [reassessed('2026-11-02')], [planned('p', {date: '2026-11-26', finished: {id: 'f'}}), visit('x')]))[0].visit, null);
});
