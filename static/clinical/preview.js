// The dates a rule would give, before anybody puts it in force.
import { data } from './data.js';
import { plusDays } from './days.js';
import { dueItems } from './reassessment.js';

/**
 * The first rounds of a rule that checkRule passes.
 * Care begins on `start` and each round is done on the day it is due; visits and the written day a rule may
 * need are assumed as the data says (`preview`). A rule that waits for something to happen gives one date.
 * @param {object} rule
 * @param {string} start
 * @param {{weekend?: number[], holidays?: string[]}} calendar
 * @param {number} count
 * @returns {{opens: string|null, due: string, limit: string, why: string}[]}
 */
export function previewDates(rule, start, calendar, count) {
  const facts = assumed(rule, start, count);
  const service = { rules: [rule], in_force: [rule.id] };
  const found = [];
  while (found.length < count) {
    const [item] = dueItems(facts, { ...calendar, today: start }, service).items;
    if (!item?.due) break;
    found.push({ opens: item.opens, due: item.due, limit: item.limit, why: item.why });
    if (!rule.done_by.length) break;
    facts.done = [...facts.done, { day: item.due, how: rule.done_by.at(-1) }];
  }
  return found;
}

// The facts of a care that begins now, with what the rule waits for.
function assumed(rule, start, count) {
  const { written_after_days: after, visits_every_days: every, change } = data.reassessment.preview;
  const day = (value) => ({ about: null, name: null, set_on: start, reason: null, day: value });
  const written = { 'care_period.starts_on': [day(start)] };
  if (rule.type === 'written_day') written[`${rule.kind}.${rule.field}`] = [day(plusDays(start, after))];
  const of = (type, what) => (rule.type === type ? [what] : []);
  return {
    visits: [start],
    planned: Array.from({ length: count * (rule.visits ?? 0) }, (_, step) => plusDays(start, every * (step + 1))),
    done: of('every_days', { day: start, how: rule.done_by.at(-1) }),
    reviews: {}, written, pauses: of('after_pause', { from: start, to: start, reason: rule.reasons?.[0] ?? 'other' }),
    discharges: [], put_off: [], own_rules: [], client_rules: {},
    changes: of('when_changed', { day: start, title: change }),
  };
}
