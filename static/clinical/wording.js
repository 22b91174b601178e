// Sentences from the data, with facts filled in.
import { data, own } from './data.js';

export const NOT_RECORDED = 'not recorded';

/**
 * The template with every {name} replaced; a missing one says so.
 * @param {string} template
 * @param {Object<string, string>} values
 * @returns {string}
 */
export const fill = (template, values) =>
  template.replace(/\{(\w+)\}/g, (_, name) => own(values, name) ?? NOT_RECORDED);

/**
 * The sentence of an error or a question.
 * @param {string} code
 * @param {Object<string, string>} [values]
 * @returns {string}
 */
export const message = (code, values = {}) => fill(data.messages[code], values);

const ASKED = { number: 'required_number', choice: 'required_choice', choices: 'required_one' };

/**
 * The sentence that asks for a field left empty: its own, or one for its kind.
 * @param {object} field
 * @returns {string}
 */
export const askFor = (field) => field.ask ?? message(ASKED[field.type] ?? 'required', { label: field.label });

/**
 * Each fact as words: choices by their labels, flags as yes and no.
 * @param {object} measure
 * @param {object} facts
 * @returns {Object<string, string>}
 */
export function factWords(measure, facts) {
  const known = Object.entries(facts).filter(([, value]) => value !== null && value !== undefined);
  return Object.fromEntries(known.map(([name, value]) => [name, words(measure, name, value)]));
}

/**
 * The reading in one line, "128/76 mmHg": the first of the measure's summaries whose facts are all there.
 * @param {object} measure
 * @param {object} facts
 * @returns {string}
 */
export function summaryOf(measure, facts) {
  const told = (measure.summaries ?? []).find(({ needs }) => needs.every((name) => name in facts));
  return fill(told?.text ?? measure.summary, factWords(measure, facts));
}

/**
 * What a fact is called on a screen.
 * @param {object} measure
 * @param {string} name
 * @returns {string}
 */
export const factLabel = (measure, name) =>
  (own(measure.facts, name) ?? measure.fields.find((field) => field.id === name)).label;

/**
 * How a unit is written.
 * @param {string} code
 * @returns {string}
 */
export const unitLabel = (code) => data.units[code].label;

/**
 * How a unit is said in a sentence: "a minute" rather than "/min".
 * @param {string} code
 * @returns {string}
 */
export const unitWords = (code) => data.units[code].spoken ?? unitLabel(code);

/**
 * How a difference in a unit is said: "5 points below", not "5 % below".
 * @param {string} code
 * @param {string} difference
 * @returns {string}
 */
export function unitApart(code, difference) {
  const { apart } = data.units[code];
  if (!apart) return unitWords(code);
  return difference === '1' ? apart.one : apart.more;
}

/**
 * The first few of a list, and how many more there are.
 * @param {string[]} labels
 * @param {number} told
 * @returns {string}
 */
export function listed(labels, told) {
  const more = labels.length > told ? message('and_more', { count: String(labels.length - told) }) : '';
  return labels.slice(0, told).join(', ') + more;
}

/**
 * The choices of a field, "readings.arm" for one inside a series, "technique" or "moments" for those.
 * @param {object} measure
 * @param {string} path
 * @returns {object[]}
 */
export function choicesOf(measure, path) {
  if (path === 'technique') return measure.technique.map(({ id, text, short }) => ({ id, label: short ?? text }));
  if (path === 'moments') return measure.moments.map(({ id, when }) => ({ id, label: when }));
  let fields = measure.fields;
  let field = {};
  for (const step of path.split('.')) {
    field = fields.find((item) => item.id === step) ?? {};
    fields = field.item ?? [];
  }
  return field.choices ?? [];
}

function words(measure, name, value) {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  const fact = own(measure.facts, name) ?? {};
  const path = fact.choices_of ?? name;
  const labels = new Map(choicesOf(measure, path).map((choice) => [choice.id, choice.label.toLowerCase()]));
  if (Array.isArray(value)) return listed(value.map((item) => labels.get(item) ?? String(item)), fact.told ?? value.length);
  return labels.get(value) ?? String(value);
}
