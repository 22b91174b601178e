// Whether a reading can be saved: what is wrong with it, and what to ask about it.
import { data, isObject, measureOf, own } from './data.js';
import { evaluate } from './expressions.js';
import { deriveFacts, scopeFor } from './facts.js';
import { checkValue, missing, problem, required } from './fields.js';

/**
 * The errors and questions of a reading; a question whose field is in body.confirmed is left out.
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {{errors: import('./fields.js').Problem[], questions: import('./fields.js').Problem[]}}
 */
export function checkReading(measureId, body, context) {
  const measure = measureOf(measureId);
  if (!measure) return sorted([problem('unknown_measure', '')], []);
  const label = measure.title;
  if (!isObject(body)) return sorted([problem('wrong_type', '', { label })], []);
  if (Object.hasOwn(body, 'not_measured')) return sorted(notMeasured(measure, body), []);
  if (!isObject(body.fields)) return sorted([problem('wrong_type', 'fields', { label })], []);
  return sorted(reading(measure, body, context ?? {}), Array.isArray(body.confirmed) ? body.confirmed : []);
}

function sorted(problems, confirmed) {
  const told = problems.map(({ level, ...found }) => ({ found, asks: level === 'question' }));
  return {
    errors: told.filter(({ asks }) => !asks).map(({ found }) => found),
    questions: told.filter(({ asks, found }) => asks && !confirmed.includes(found.field)).map(({ found }) => found),
  };
}

function notMeasured(measure, body) {
  const { reason, note } = isObject(body.not_measured) ? body.not_measured : {};
  const problems = [];
  if (isObject(body.fields) ? Object.keys(body.fields).length : !missing(body.fields)) {
    problems.push(problem('not_measured_and_fields', 'not_measured'));
  }
  if (!measure.not_measured.includes(reason)) {
    problems.push(problem('unknown_reason', 'not_measured.reason'));
  } else if (data.reasons[reason].note_needed && !(typeof note === 'string' && /[^ \t\r\n]/.test(note))) {
    problems.push(problem('note_needed', 'not_measured.note'));
  }
  return problems;
}

function reading(measure, body, context) {
  const scope = scopeFor(measure.id, deriveFacts(measure.id, body, context), context);
  return [
    ...strangers(measure, body),
    ...measure.fields.flatMap((field) => fieldProblems(measure, field, body, scope)),
    ...measure.checks.flatMap((check) => crossProblems(check, body, scope)),
  ];
}

function strangers(measure, body) {
  const ids = measure.fields.map((field) => field.id);
  const steps = measure.technique.map((step) => step.id);
  const { units = {}, technique = [] } = body;
  const unknown = Object.keys(body.fields).filter((name) => !ids.includes(name)).sort();
  const problems = unknown.map((name) => problem('unknown_field', name));
  const label = measure.title;
  if (!isObject(units)) return [...problems, problem('wrong_type', 'units', { label })];
  if (!Array.isArray(technique)) return [...problems, problem('wrong_type', 'technique', { label })];
  const idle = Object.keys(units).filter((name) => !ids.includes(name)).sort();
  return [
    ...problems,
    ...idle.map((name) => problem('unknown_field', `units.${name}`)),
    ...technique.filter((step) => !steps.includes(step)).map(() => problem('unknown_step', 'technique')),
  ];
}

function fieldProblems(measure, field, body, scope) {
  const value = own(body.fields, field.id);
  const shown = evaluate(field.shown ?? true, scope);
  if (missing(value)) {
    const needed = shown !== false && evaluate(field.required ?? false, scope) === true;
    return needed ? [required(field, field.id)] : [];
  }
  if (shown === false) return [problem('not_shown', field.id, { label: field.label })];
  if (field.type === 'series') return seriesProblems(field, value, body);
  return checkValue(field, value, field.id, body.units, measure, scope);
}

function seriesProblems(field, items, body) {
  const { id, label, min, max } = field;
  if (!Array.isArray(items) || !items.every(isObject)) return [problem('wrong_type', id, { label })];
  const problems = [];
  if (items.length < min) problems.push(problem('too_few', id, { label, min: String(min) }));
  if (items.length > max) problems.push(problem('too_many', id, { label, max: String(max) }));
  return [...problems, ...items.flatMap((item, place) => itemProblems(field, item, `${id}.${place}`, body))];
}

function itemProblems(field, item, path, body) {
  const ids = field.item.map((part) => part.id);
  const unknown = Object.keys(item).filter((name) => !ids.includes(name)).sort();
  const problems = unknown.map((name) => problem('unknown_field', `${path}.${name}`));
  for (const part of field.item) {
    const [where, value] = [`${path}.${part.id}`, own(item, part.id)];
    if (!missing(value)) problems.push(...checkValue(part, value, where, body.units));
    else if (part.required) problems.push(required(part, where));
  }
  return problems;
}

function crossProblems(check, body, scope) {
  const { level, id: code, message } = check;
  return scopesOf(check.field, body, scope)
    .filter(([, facts]) => evaluate(check.unless, facts) === false)
    .map(([path]) => ({ field: path, code, message, level }));
}

function scopesOf(path, body, scope) {
  const [series, part] = path.split('.*.');
  if (part === undefined) return [[path, scope]];
  const items = own(body.fields, series);
  const rows = Array.isArray(items) ? items : [];
  return rows
    .map((row, place) => [`${series}.${place}.${part}`, row])
    .filter(([, row]) => isObject(row))
    .map(([where, row]) => [where, { ...scope, ...row }]);
}
