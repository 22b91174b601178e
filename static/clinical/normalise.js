// A reading as it stands in a form, made into the body of an entry.
import { data, isObject, own } from './data.js';
import { evaluate } from './expressions.js';
import { deriveFacts, scopeFor } from './facts.js';
import { missing } from './fields.js';
import { parseNumber } from './parse.js';

/**
 * The body with numbers in canonical text, empty values and fields that do not apply left out.
 * Text that is no number stays as typed, for checkReading to name.
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {object}
 */
export function normaliseBody(measureId, body, context) {
  const measure = data.measures[measureId];
  if (!isObject(body.fields)) return body;
  const kept = measure.fields
    .map((field) => [field.id, valueOf(field, own(body.fields, field.id))])
    .filter(([, value]) => !missing(value));
  const known = new Set(measure.fields.map((field) => field.id));
  const strangers = Object.entries(body.fields).filter(([name]) => !known.has(name));
  const clean = { ...body, fields: Object.fromEntries([...kept, ...strangers]) };
  const scope = scopeFor(measureId, deriveFacts(measureId, clean, context), context);
  for (const field of measure.fields) {
    if (evaluate(field.shown ?? true, scope) === false) delete clean.fields[field.id];
  }
  return withoutIdleUnits(clean);
}

function withoutIdleUnits(body) {
  if (!isObject(body.units)) return body;
  const used = Object.entries(body.units).filter(([name]) => Object.hasOwn(body.fields, name));
  return { ...body, units: Object.fromEntries(used) };
}

function valueOf(field, value) {
  if (field.type === 'number') return parseNumber(value, field.decimals).value ?? value;
  if (field.type === 'series' && Array.isArray(value)) {
    return value.filter((item) => !isEmpty(item)).map((item) => itemOf(field, item));
  }
  return value;
}

function itemOf(field, item) {
  if (!isObject(item)) return item;
  const kinds = new Map(field.item.map((part) => [part.id, part]));
  const values = Object.entries(item)
    .map(([name, value]) => [name, kinds.has(name) ? valueOf(kinds.get(name), value) : value]);
  return Object.fromEntries(values.filter(([, value]) => !missing(value)));
}

const isEmpty = (item) => isObject(item) && Object.values(item).every(missing);
