// Facts of a reading: its fields in canonical units, and what is worked out from them.
import { data, isObject, measureOf, own } from './data.js';
import { isDecimal, roundText } from './decimals.js';
import { evaluate } from './expressions.js';
import { FORMULAS } from './formulas.js';
import { canonical } from './units.js';

/**
 * All facts of a reading, as decimal text, ids, flags and lists; a value that is no good is left out.
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {object}
 */
export function deriveFacts(measureId, body, context = {}) {
  const measure = data.measures[measureId];
  if (!isObject(body) || !isObject(body.fields)) return {};
  const facts = fieldFacts(measure, body);
  for (const name of measure.derive) Object.assign(facts, FORMULAS[name](measure, body, facts, context ?? {}));
  if (Array.isArray(body.technique)) {
    const missed = missedSteps(measure, body.technique, facts);
    Object.assign(facts, { technique_missed: String(missed.length), steps_missed: missed });
  }
  return Object.fromEntries(Object.entries(facts).filter(([, value]) => value !== null));
}

/**
 * What an expression may look at: the context, the other readings of the visit, and the facts themselves.
 * @param {string} measureId
 * @param {object} facts
 * @param {object} [context]
 * @returns {object}
 */
export function scopeFor(measureId, facts, context) {
  const { sex = null, precautions = null, first_visit = null, age, reading_facts } = context ?? {};
  const scope = { sex, precautions, first_visit, age: Number.isInteger(age) ? String(age) : null };
  for (const [other, others] of Object.entries(reading_facts ?? {})) {
    if (other === measureId) continue;
    for (const [name, value] of Object.entries(others)) scope[`${other}.${name}`] = value;
  }
  return { ...scope, ...facts };
}

/**
 * The ids of the fields to show for what has been filled in so far.
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {string[]}
 */
export function shownFields(measureId, body, context) {
  const scope = scopeFor(measureId, deriveFacts(measureId, body, context), context);
  const shown = data.measures[measureId].fields.filter((field) => evaluate(field.shown ?? true, scope) === true);
  return shown.map((field) => field.id);
}

/**
 * The technique steps that apply and were not ticked.
 * @param {object} measure
 * @param {string[]} ticked
 * @param {object} facts
 * @returns {string[]}
 */
export function missedSteps(measure, ticked, facts) {
  const applying = measure.technique.filter((step) => evaluate(step.shown ?? true, facts) === true);
  return applying.map((step) => step.id).filter((id) => !ticked.includes(id));
}

function fieldFacts(measure, body) {
  const facts = {};
  for (const field of measure.fields) {
    const unit = own(body.units, field.id) ?? field.unit;
    const value = factOf(field, own(body.fields, field.id), unit);
    if (value !== null && value !== undefined) facts[field.id] = rounded(own(measure.facts, field.id), value);
  }
  return facts;
}

// Judged as it is told: a temperature typed in Fahrenheit to 0.1 °C.
const rounded = (kind, value) => (kind?.rounded ? roundText(value, kind.decimals) : value);

function factOf(field, value, unit) {
  if (field.type === 'number') {
    const known = field.units.some((choice) => choice.code === unit);
    return known && isDecimal(value) ? canonical(value, unit) : null;
  }
  if (field.type === 'choice') return field.choices.some((choice) => choice.id === value) ? value : null;
  if (field.type === 'choices') return chosen(field, value);
  return typeof value === { flag: 'boolean', text: 'string' }[field.type] ? value : null;
}

const chosen = (field, value) =>
  Array.isArray(value) ? field.choices.map((choice) => choice.id).filter((id) => value.includes(id)) : null;
