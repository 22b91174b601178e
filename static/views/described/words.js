/** What is described, in words. */
import {data, describedItems, describedKinds, fieldChoices, knownRules, measures, unitLabel} from '../../clinical/index.js';
import {sayDate} from '../format.js';

/** "32.5 in" @param {{value: string, unit: string}} length */
export const sayLength = ({value, unit}) => `${value} ${unitLabel(unit)}`;

/** The label of a choice. @param {string} kind @param {string} field @param {string|undefined} id */
export function choiceLabel(kind, field, id) {
  const about = describedKinds[kind].fields.find((each) => each.id === field);
  return fieldChoices(about).find((each) => each.id === id)?.label ?? id ?? '';
}

/** Our words for an activity code. @param {string|undefined} code */
export const codeLabel = (code) => data.activities.codes.find((each) => each.code === code)?.label ?? code ?? '';

/**
 * A value as it is read on a screen.
 * @param {object} field  @param {unknown} value  @param {object[]} entries of the client, to name what it refers to
 * @param {object} [service] with the service's own rules of reassessment
 */
export function sayValue(field, value, entries, service) {
  const says = {
    choice: () => fieldChoices(field).find((each) => each.id === value)?.label ?? value,
    activity_code: () => `${codeLabel(value)} (${value})`,
    day: () => sayDate(value),
    length: () => sayLength(value),
    item: () => nameOf(entries, field.of, value),
    measures: () => value.map((id) => measures[id]?.title ?? id).join(', '),
    key: () => ruleTitle(value, entries, service),
    rules: () => value.map((id) => ruleTitle(id, entries, service)).join(', '),
  };
  return (says[field.type] ?? (() => value))();
}

/** What a rule is called, also one of the client's own or one for an item: "Review of a goal". */
export function ruleTitle(key, entries, service) {
  const [rule, item] = key.split(':');
  return rule === 'own' ? nameOf(entries, 'reassessment_rule', item) : knownRules(service).get(rule)?.title ?? rule;
}

/** The name of an item; its beginning may not be on this phone yet. */
export function nameOf(entries, kind, item) {
  return describedItems(entries, kind).find((each) => each.item === item)?.fields.name ?? 'Not on this phone yet';
}

/** "Returned, Tue 3 Mar" @param {string} kind @param {{how: string, day: string}} ended */
export function sayEnded(kind, ended) {
  const how = describedKinds[kind].ends.find((each) => each.id === ended.how)?.label ?? ended.how;
  return `${how}, ${sayDate(ended.day)}`;
}

/** All that a described entry says, as pairs of label and words. @param {object} entry @param {object[]} entries @param {object} [service] */
export function entryFacts({kind, body}, entries, service) {
  const values = body.fields ?? body.set ?? {};
  const facts = describedKinds[kind].fields.filter(({id}) => values[id] !== undefined)
    .map((field) => ({label: field.label, words: values[field.id] === null ? 'cleared' : sayValue(field, values[field.id], entries, service)}));
  if (values.ended) facts.push({label: 'Ended', words: sayEnded(kind, values.ended)});
  if (values.ended === null) facts.push({label: 'Ended', words: 'goes on again'});
  return facts;
}
