// The limit a rule sets: one function for each type of rule, days counted on the calendar.
import { data } from './data.js';
import { daysFrom, isDay, plusDays, sayDay } from './days.js';

/**
 * What a rule asks for; `limit` is null where it cannot be known yet: too few visits are planned, or days do not run.
 * @param {object} rule
 * @param {object} facts as careFacts gives them
 * @param {string} today
 * @returns {object[]} key, about, name, from, limit, opens, and the words that say why
 */
export const limitsOf = (rule, facts, today) => TYPES[rule.type](rule, facts, today);

const NUMBERS = ['days', 'visits', 'window', 'before'];
const earlier = (one, other) => (one < other ? one : other);
const later = (one, other) => (one > other ? one : other);

function raw(rule, from, limit, opens, why, words) {
  const numbers = NUMBERS.filter((name) => Object.hasOwn(rule, name)).map((name) => [name, String(rule[name])]);
  const told = { from: sayDay(from), limit: limit ? sayDay(limit) : '', ...words, ...Object.fromEntries(numbers) };
  return { key: rule.id, about: null, name: null, from, limit, opens, why, words: told, visits: null, away: 0 };
}

// The last time something was done that counts for the rule.
function lastOf(rule, { visits, done }) {
  const first = visits.length ? [{ day: visits[0], how: 'first' }] : [];
  const counted = [...first, ...done].filter(({ how }) => rule.done_by.includes(how));
  return counted.toSorted((one, other) => (one.day < other.day ? -1 : one.day > other.day ? 1 : 0)).at(-1) ?? null;
}

function everyDays(rule, facts, today) {
  const last = lastOf(rule, facts);
  return last ? [counted(rule, last.day, facts, today, ['every_days', 'every_days_open'], { done: howLabel(last.how) })] : [];
}

// The limit so many days after a day. The day itself is not counted: 1 June and 30 days is 1 July.
function counted(rule, start, facts, today, why, words) {
  const { limit, away } = running(rule, start, facts.pauses, today);
  const opens = limit ? later(plusDays(limit, -(rule.opens ?? rule.days)), plusDays(start, 1)) : null;
  return { ...raw(rule, start, limit, opens, why[limit ? 0 : 1], words), away };
}

// The limit, and how many days away it was moved by; no limit while the days do not run.
function running(rule, start, pauses, today) {
  let [limit, away] = [plusDays(start, rule.days), 0];
  // A legal limit runs on through a pause; days of the service's own are days in care.
  for (const { from, to } of rule.clock === 'stops' ? merged(pauses, today) : []) {
    const first = later(from, plusDays(start, 1));
    if (first > limit) break;
    if (to === null) return { limit: null, away };
    const length = Math.max(daysFrom(first, to), 0);
    [limit, away] = [plusDays(limit, length), away + length];
  }
  return { limit, away };
}

/**
 * The pauses that have begun, in order, those that overlap or touch made one.
 * @param {{from: string, to: string|null, reason: string|null}[]} pauses
 * @param {string} today
 * @returns {object[]}
 */
export function merged(pauses, today) {
  const found = [];
  for (const pause of pauses.toSorted((one, other) => (one.from < other.from ? -1 : one.from > other.from ? 1 : 0))) {
    if (pause.from > today) continue;
    const last = found.at(-1);
    if (last && (last.to === null || pause.from <= last.to)) last.to = last.to && pause.to ? later(last.to, pause.to) : null;
    else found.push({ ...pause });
  }
  return found;
}

const period = (rule, facts) => facts.written['care_period.starts_on'].map(({ day }) => nextPeriod(rule, day, facts));

function nextPeriod(rule, start, facts) {
  const last = lastOf(rule, facts);
  // A period is settled by what was done once its last days had begun; done late it counts for none after.
  const past = last ? daysFrom(start, last.day) + rule.window : 0;
  const first = plusDays(start, rule.days * Math.max(Math.floor(past / rule.days), 0));
  const limit = plusDays(first, rule.days - 1);
  const opens = plusDays(limit, 1 - rule.window);
  return raw(rule, first, limit, opens, 'period', { begins: sayDay(opens) });
}

function afterVisits(rule, facts, today) {
  const last = lastOf(rule, facts);
  const after = last?.day ?? '';
  const held = facts.visits.filter((day) => day > after);
  const known = [...held, ...facts.planned.filter((day) => day > after && day >= today)].sort();
  if (!last && !held.length) return [];
  const [limit, opens] = [rule.visits, Math.max(rule.visits - (rule.opens ?? 0), 1)].map((at) => known[at - 1] ?? null);
  const why = last ? 'after_visits' : 'after_visits_first';
  const item = raw(rule, last?.day ?? held[0], limit, opens, why, { held: String(held.length) });
  return [{ ...item, visits: { held: held.length, of: rule.visits } }];
}

function writtenDay(rule, facts) {
  const written = facts.written[`${rule.kind}.${rule.field}`] ?? [];
  return written.map((each) => [ofDay(rule, each), each]).filter(([item, each]) => !settled(rule, item, each, facts)).map(([item]) => item);
}

function ofDay(rule, { about, name, day, set_on: setOn, reason }) {
  const before = rule.before ?? 0;
  const limit = plusDays(day, -before);
  // Not before it was written: the reassessment that set the day is not yet the one it was set for.
  const opens = earlier(later(plusDays(limit, -(rule.opens ?? 0)), plusDays(setOn, 1)), limit);
  const item = raw(rule, setOn, limit, opens, before ? 'written_day_before' : 'written_day', { day: sayDay(day) });
  return { ...item, key: about ? `${rule.id}:${about}` : rule.id, about, name, note: reason };
}

function settled(rule, { opens }, { about, set_on: setOn }, facts) {
  const done = facts.done.filter(({ how }) => rule.done_by.includes(how)).map(({ day }) => day);
  const reviewed = rule.reviewed_by ? facts.reviews[about ?? ''] ?? [] : [];
  return [...done, ...reviewed].some((day) => day >= later(opens, setOn));
}

function whenChanged(rule, facts, today) {
  const last = lastOf(rule, facts);
  const open = facts.changes.filter(({ day }) => !last || day > last.day);
  if (!open.length) return [];
  const first = open.map(({ day }) => day).sort()[0];
  const names = [...new Set(open.filter(({ day }) => day === first).map(({ title }) => title))];
  return [counted(rule, first, facts, today, ['when_changed', 'when_changed_open'], { changes: names.join(', ') })];
}

function afterPause(rule, facts, today) {
  const last = lastOf(rule, facts);
  const open = ({ to, reason }) => isDay(to) && to <= today && (!last || last.day < to) && (rule.reasons?.includes(reason) ?? true);
  const back = facts.pauses.filter(open).toSorted((one, other) => (one.to < other.to ? -1 : one.to > other.to ? 1 : 0));
  return back.slice(0, 1).map(({ to, reason }) =>
    raw(rule, to, plusDays(to, rule.days), to, 'after_pause', { reason: pauseReason(reason) }));
}

const howLabel = (how) => data.reassessment.done_by.find(({ id }) => id === how)?.label ?? how;

/**
 * Why somebody is away, in words inside a sentence.
 * @param {string|null} reason
 * @returns {string}
 */
export function pauseReason(reason) {
  const { choices } = data.described.kinds.pause.fields.find(({ id }) => id === 'reason');
  const label = choices.find(({ id }) => id === reason)?.label ?? '';
  return label.slice(0, 1).toLowerCase() + label.slice(1);
}

const TYPES = {
  every_days: everyDays, period, after_visits: afterVisits, written_day: writtenDay, when_changed: whenChanged, after_pause: afterPause,
};
