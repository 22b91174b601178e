// A result against the last one: better, worse, or no more apart than measuring alone can make it.
import { data } from './data.js';
import { fromScaled, isDecimal, toScaled } from './decimals.js';
import { evaluate } from './expressions.js';
import { factLabel, fill, unitApart, unitWords } from './wording.js';

/**
 * One finding for each field the data compares with the last time, when it has a value now.
 * @param {object} measure
 * @param {object} facts
 * @param {object} scope
 * @param {object} context
 * @returns {object[]}
 */
export function lastTimeFindings(measure, facts, scope, context) {
  const rows = new Map();
  for (const row of data.last_time.changes) {
    if (row.measure !== measure.id || evaluate(row.when ?? true, scope) !== true) continue;
    for (const field of row.fields) if (!rows.has(field)) rows.set(field, row);
  }
  const known = [...rows].filter(([field]) => isDecimal(facts[field]));
  return known.map(([field, row]) => finding(measure, field, row, facts, context));
}

function finding(measure, field, row, facts, context) {
  const last = lastValue(measure.id, field, row, facts, context);
  const kind = kindOf(row, facts[field], last);
  const { level, word, because, source, plain } = data.last_time[kind];
  return {
    rule: `${measure.id}.last_time.${field}.${kind}`,
    against: 'last_time',
    level,
    word,
    because: fill(because, wordsOf(measure, field, row, facts[field], last)),
    source: source ?? row.source,
    plain,
    field,
    last,
  };
}

// The newest earlier value got the same way: with the same aid, at the same pace.
function lastValue(measureId, field, row, facts, context) {
  const history = context.history?.[measureId] ?? [];
  const alike = history.filter((old) => row.same.every((name) => (old[name] ?? null) === (facts[name] ?? null)));
  return alike.map((old) => old[field]).filter(isDecimal).at(-1) ?? null;
}

function kindOf(row, now, last) {
  if (last === null) return 'none';
  if (!('limit' in row)) return 'difference';
  const difference = toScaled(now) - toScaled(last);
  if (Math.abs(difference) <= toScaled(row.limit)) return 'no_real_change';
  return (difference > 0) === (row.better === 'more') ? 'better' : 'worse';
}

function wordsOf(measure, field, row, now, last) {
  const { unit } = measure.facts[field];
  const words = { label: factLabel(measure, field), value: now, unit: unitWords(unit) };
  if (last === null) return words;
  const difference = toScaled(now) - toScaled(last);
  const size = fromScaled(Math.abs(difference));
  const direction = difference > 0 ? 'more' : difference < 0 ? 'less' : 'same';
  const compared = fill(data.last_time.compared[direction], { difference: size, unit: unitApart(unit, size), last });
  const limit = row.limit ?? '';
  return { ...words, compared, limit, limit_unit: unitApart(unit, limit) };
}
