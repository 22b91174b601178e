// What is due: for one client, by the rules in force, on a given day and with its reasons. Pure.
import { careFacts } from './care.js';
import { changesOf } from './changes.js';
import { data } from './data.js';
import { daysFrom, isWorking, plusDays, sayDay } from './days.js';
import { limitsOf, merged, pauseReason } from './limits.js';
import { rulesInForce, unusableRules } from './rules.js';
import { fill } from './wording.js';

/**
 * What dueItems counts from; it does not depend on today and may be kept until an entry comes.
 * @param {object[]} entries of one client
 * @param {object|null} [service]
 * @param {string|null} [zone]
 * @returns {object}
 */
export function reassessmentFacts(entries, service, zone) {
  const facts = careFacts(entries, zone);
  return { ...facts, changes: changesOf(entries, facts, rulesInForce(service, facts)) };
}

/**
 * What is due for the client of these entries; see dueItems.
 * @param {object[]} entries
 * @param {object} calendar
 * @param {object|null} [service]
 * @returns {object}
 */
export const reassessmentDue = (entries, calendar, service) =>
  dueItems(reassessmentFacts(entries, service, calendar.zone), calendar, service);

/**
 * What is due, the earliest first. `due` is the day to do it by, `limit` the last day that keeps the rule.
 * @typedef {{key: string, rule: string, title: string, about: string|null, name: string|null, from: string,
 *   opens: string|null, due: string|null, limit: string|null, state: 'later'|'open'|'due'|'overdue'|'away'|'waiting',
 *   overdue_by: number, visits: {held: number, of: number}|null, put_off: object|null, why: string, source: string,
 *   legal: boolean}} Item open: it is sensible to do; away: the client is; waiting: no day is known yet
 * @param {object} facts as reassessmentFacts gives them
 * @param {{today: string, weekend?: number[], holidays?: string[], zone?: string}} calendar
 * @param {{in_force?: string[], rules?: object[]}|null} [service]
 * @returns {{items: Item[], governs: string|null, away: object|null, discharged: object|null, unusable: string[]}}
 */
export function dueItems(facts, calendar, service) {
  const { today } = calendar;
  const { since, discharged } = spellOn(facts.discharges, today);
  const told = { away: facts.pauses.find((each) => holds(each, today)) ?? null, discharged, unusable: unusableRules(service, facts) };
  if (discharged) return { items: [], governs: null, ...told };
  const own = ofSpell(facts, since);
  const items = rulesInForce(service, facts).flatMap((rule) => limitsOf(rule, own, today).map((raw) => itemOf(rule, raw, own, calendar)));
  items.sort((one, other) => (byDay(one) < byDay(other) ? -1 : byDay(one) > byDay(other) ? 1 : 0));
  return { items, governs: items[0]?.due ? items[0].key : null, ...told };
}

// One put off beyond a legal limit keeps its place: that limit is what governs.
const byDay = ({ due, limit }) => [due ?? '9999-12-31', limit ?? '9999-12-31'].sort()[0];

// The day care was last taken up again, and the discharge that holds today.
function spellOn(discharges, today) {
  const begun = discharges.filter(({ day }) => day <= today);
  const back = begun.map(({ reopened }) => reopened).filter((day) => day && day <= today).sort();
  return { since: back.at(-1) ?? null, discharged: begun.filter(({ reopened }) => !back.includes(reopened)).at(-1) ?? null };
}

const holds = ({ from, to }, today) => from <= today && (to === null || today < to);

// Only what happened after care was last taken up again.
function ofSpell(facts, since) {
  if (since === null) return facts;
  const dated = (name) => facts[name].filter(({ day }) => day >= since);
  const written = Object.entries(facts.written).map(([name, days]) => [name, days.filter((each) => each.set_on >= since)]);
  return {
    ...facts, done: dated('done'), changes: dated('changes'), put_off: dated('put_off'),
    visits: facts.visits.filter((day) => day >= since), written: Object.fromEntries(written),
    pauses: facts.pauses.filter(({ to }) => to === null || to > since),
  };
}

function itemOf(rule, raw, facts, calendar) {
  const { today } = calendar;
  const moved = movedDay(rule, raw, calendar);
  const putOff = postponed(raw, moved.due, facts);
  const due = putOff ? putOff.until : moved.due;
  // Putting off a legal limit says when and why it will be late; it does not make it later.
  const limit = putOff && !rule.legal ? due : raw.limit;
  const begins = putOff ? due : raw.opens;
  const opens = begins && due && due < begins ? due : begins;
  const away = merged(facts.pauses, today).find((each) => holds(each, today)) ?? null;
  const state = stateOf(today, opens, due, limit, away);
  const words = [...reasons(rule, raw), ...moved.words, ...putOffWords(rule, raw, putOff), ...awayWords(rule, away), ...notes(rule, raw)];
  return {
    key: raw.key, rule: rule.id, title: rule.title, about: raw.about, name: raw.name,
    from: raw.from, opens, due, limit, state, overdue_by: state === 'overdue' ? daysFrom(limit, today) : 0,
    visits: raw.visits, put_off: putOff, why: words.join(' '), source: rule.source, legal: rule.legal,
  };
}

function stateOf(today, opens, due, limit, away) {
  if (away) return 'away';
  const open = opens && today >= opens;
  if (limit === null || due === null) return open ? 'open' : 'waiting';
  if (today > limit) return 'overdue';
  if (today >= due) return 'due';
  return open ? 'open' : 'later';
}

// The day to do it by when the limit is no working day, and the words for it.
// Earlier, never later, for a legal limit: the rules count calendar days and none of them gives a day more
// because an office is closed, so the last working day before is the last on which it can be done in time.
// It stays within the days in which doing it counts; where none of them is a working day, the limit stands.
function movedDay(rule, raw, calendar) {
  const { limit } = raw;
  if (limit === null || rule.moves === 'never' || isWorking(limit, calendar)) return { due: limit, words: [] };
  const later = rule.moves === 'later' && !rule.legal;
  const days = Array.from({ length: data.reassessment.farthest_move }, (_, step) => plusDays(limit, later ? step + 1 : -step - 1));
  const earliest = Object.hasOwn(rule, 'window') ? raw.opens : plusDays(raw.from, 1);
  const found = days.find((day) => isWorking(day, calendar) && day >= earliest);
  const word = !found ? 'no_working_day' : later ? 'moved_later' : 'moved_earlier';
  return { due: found ?? limit, words: [say(word, { limit: sayDay(limit), due: sayDay(found ?? limit) })] };
}

// The last postponement made in this round of the rule, if it puts the day off at all.
function postponed(raw, due, facts) {
  const last = facts.put_off.findLast((each) => each.due === raw.key && each.day >= raw.from);
  return last && due !== null && last.until > due ? { entry: last.entry, until: last.until, reason: last.reason } : null;
}

const say = (name, words = {}) => fill(data.reassessment.why[name], words);
const bare = (text) => text.replace(/[ .]+$/, '');

function reasons(rule, raw) {
  const told = [say(raw.why, raw.words)];
  return raw.away ? [...told, say('not_counted', { away: String(raw.away) })] : told;
}

const notes = (rule, raw) => [raw.note, rule.note].filter(Boolean).map((note) => `${bare(note)}.`);

function putOffWords(rule, raw, putOff) {
  if (!putOff) return [];
  const told = [say('put_off', { until: sayDay(putOff.until), reason: bare(putOff.reason ?? '') })];
  return rule.legal ? [...told, say('put_off_legal', { limit: sayDay(raw.limit) })] : told;
}

function awayWords(rule, away) {
  if (!away) return [];
  const told = [say('away', { since: sayDay(away.from), reason: pauseReason(away.reason) })];
  return rule.clock === 'runs_on' ? [...told, say('away_legal')] : told;
}
