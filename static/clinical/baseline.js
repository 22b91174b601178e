// The client's own baseline, and how far a reading stands from it.
import { data, own } from './data.js';
import { divideHalfUp, fromScaled, isDecimal, roundText, toScaled } from './decimals.js';
import { factLabel, fill, unitWords } from './wording.js';

/**
 * The median of the first three values, oldest first; provisional below three, none at none.
 * @param {string[]} values
 * @returns {{value: string|null, count: number, provisional: boolean}}
 */
export function baseline(values) {
  const needed = data.baseline.first;
  const first = values.slice(0, needed).map(toScaled).sort((one, other) => one - other);
  const count = first.length;
  if (count === 0) return { value: null, count: 0, provisional: true };
  const middle = Math.floor(count / 2);
  const median = count % 2 ? first[middle] : divideHalfUp(first[middle - 1] + first[middle], 2);
  return { value: fromScaled(median), count, provisional: count < needed };
}

/**
 * For each field that has a baseline, how the reading compares.
 * @param {object} measure
 * @param {object} facts
 * @param {object} context
 * @returns {object[]}
 */
export function baselineFindings(measure, facts, context) {
  const names = Object.keys(measure.facts).filter((name) => measure.facts[name].baseline && isDecimal(facts[name]));
  return names.flatMap((name) => fieldFindings(measure, name, facts, earlierValues(measure, name, facts, context)));
}

/**
 * The earlier values that may be compared: same site, same supply where that matters.
 * @param {object} measure
 * @param {string} name
 * @param {object} facts
 * @param {object} context
 * @returns {string[]}
 */
export function earlierValues(measure, name, facts, context) {
  const history = own(context.history, measure.id) ?? [];
  const same = measure.facts[name].baseline_same ?? [];
  const alike = history.filter((old) => same.every((other) => (old[other] ?? null) === (facts[other] ?? null)));
  return alike.map((old) => old[name]).filter(isDecimal);
}

function fieldFindings(measure, name, facts, values) {
  const base = baseline(values);
  const told = kindsOf(measure, name, facts[name], values, base);
  return told.map((found) => ({ ...found, field: name, baseline: base.value, count: base.count }));
}

function kindsOf(measure, name, value, values, base) {
  const words = wordsOf(measure, name, value, base);
  if (base.value === null) return [findingOf(measure, name, 'none', words)];
  const limit = data.baseline.change_limits.find((row) => row.measure === measure.id && row.field === name);
  const difference = toScaled(value) - toScaled(base.value);
  if (limit) {
    const kind = Math.abs(difference) > toScaled(limit.limit) ? 'changed' : 'steady';
    // Decided by the exact limit, told as a person would say it.
    const told = roundText(limit.limit, limit.told_decimals);
    return [findingOf(measure, name, kind, { ...words, limit: told }, limit.source)];
  }
  const kinds = [difference ? 'difference' : 'same', ...extremes(value, values)];
  return kinds.map((kind) => findingOf(measure, name, kind, { ...words, count: String(values.length) }));
}

function extremes(value, values) {
  // Two of two is no record: only said once there is a baseline.
  if (values.length < data.baseline.first) return [];
  const [earlier, now] = [values.map(toScaled), toScaled(value)];
  if (now < Math.min(...earlier)) return ['lowest'];
  return now > Math.max(...earlier) ? ['highest'] : [];
}

function wordsOf(measure, name, value, base) {
  const unit = unitWords(measure.facts[name].unit);
  const words = { label: factLabel(measure, name), value, unit };
  return base.value === null ? words : { ...words, compared: comparedWords(value, unit, base) };
}

function comparedWords(value, unit, base) {
  const texts = data.baseline;
  const difference = toScaled(value) - toScaled(base.value);
  const direction = difference > 0 ? 'above' : difference ? 'below' : 'same';
  const provisional = base.provisional ? fill(texts.provisional, { count: String(base.count) }) : '';
  const told = { difference: fromScaled(Math.abs(difference)), unit, baseline: base.value, provisional };
  return fill(texts.compared[direction], told);
}

function findingOf(measure, name, kind, words, source) {
  const text = data.baseline[kind];
  return {
    rule: `${measure.id}.baseline.${name}.${kind}`,
    against: 'baseline',
    level: text.level,
    word: text.word,
    because: fill(text.because, words),
    source: source ?? text.source,
    plain: text.plain,
  };
}
