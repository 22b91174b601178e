/** The dates a rule would give for one client, before it is saved: the real record, then each round on its day. */
import {clientsRule, data, dueItems, plusDays} from '../../clinical/index.js';

/**
 * @param {object} care as reassessmentFacts gives them
 * @param {object} fields of a reassessment_rule as they would be saved
 * @param {object} calendar with today
 * @param {number} count
 * @returns {{due: string|null, why: string, state: string}[]|null} null while the rule lacks its number
 */
export function roundsOf(care, fields, calendar, count) {
  const own = clientsRule({...fields, item: 'new'});
  if (!own) return null;
  const rule = {...own, id: 'preview', title: fields.name ?? 'Preview'};  // a service's rules have an id and a title
  const service = {rules: [rule], in_force: [rule.id]};
  const facts = {...care, own_rules: [], client_rules: {}, planned: planned(care, rule, calendar.today, count)};
  const found = [];
  while (found.length < count) {
    const [item] = dueItems(facts, calendar, service).items;
    if (!item) break;
    found.push({due: item.due, why: item.why, state: item.state});
    if (!item.due) break;
    facts.done = [...facts.done, {day: item.due > calendar.today ? item.due : calendar.today, how: 'functional'}];
  }
  return found;
}

/** Where visits are counted, those to come are assumed, as often as the data says. */
function planned(care, rule, today, count) {
  if (rule.type !== 'after_visits') return care.planned;
  const last = [...care.visits, ...care.planned].sort().at(-1) ?? today;
  const from = last > today ? last : today;
  const steps = Array.from({length: rule.visits * count}, (_, step) => plusDays(from, data.reassessment.preview.visits_every_days * (step + 1)));
  return [...care.planned, ...steps];
}
