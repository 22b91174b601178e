// Real changes at the visits since the last reassessment: what asks for the next one sooner.
import { contextFor } from './card.js';
import { data, own } from './data.js';
import { judgeVisit } from './judge.js';
import { resolveEntries, standing } from './record.js';

/**
 * The changes at the visits that a rule still asks about.
 * Only visits since the last thing done that settles a change are judged: judging is slow on old phones.
 * @param {object[]} entries of one client
 * @param {object} facts as careFacts gives them
 * @param {object[]} rules in force
 * @returns {{day: string, visit: string, measure: string, title: string, word: string, because: string}[]}
 */
export function changesOf(entries, facts, rules) {
  const asked = rules.filter(({ type }) => type === 'when_changed');
  if (!asked.length) return [];
  const wanted = asked.flatMap(({ changes }) => changes);
  const since = asked.map((rule) => settledOn(rule, facts)).sort()[0];
  const recent = Object.entries(facts.held).filter(([, day]) => day > since);
  const found = recent.flatMap(([visit, day]) => atVisit(entries, visit, day, wanted));
  return found.toSorted((one, other) => (one.day < other.day ? -1 : one.day > other.day ? 1 : 0));
}

const settledOn = (rule, { done }) => done.filter(({ how }) => rule.done_by.includes(how)).map(({ day }) => day).sort().at(-1) ?? '';

function atVisit(entries, visit, day, wanted) {
  const bodies = bodiesOf(entries, visit);
  if (!Object.keys(bodies).length) return [];
  const compared = ({ against, rule }) => ['baseline', 'last_time'].includes(against) && wanted.includes(rule.split('.').at(-1));
  return judgeVisit(bodies, contextFor(entries, visit, day)).flatMap(({ measure, findings }) =>
    findings.filter(compared).map(({ word, because }) => ({ day, visit, measure, title: data.measures[measure].title, word, because })));
}

// The readings of a visit that gave a value, the last of each measure.
function bodiesOf(entries, visit) {
  const chains = standing(resolveEntries(entries)).filter(({ entry }) => entry.visit === visit && own(data.measures, entry.kind));
  return Object.fromEntries(chains.filter(({ entry }) => !Object.hasOwn(entry.body, 'not_measured')).map(({ entry }) => [entry.kind, entry.body]));
}
