// The client's own baseline, and how far a reading stands from it.
import { data, own } from './data.js';
import { divideHalfUp, fromScaled, isDecimal, roundText, toScaled } from './decimals.js';
import { factLabel, fill, unitApart, unitWords } from './wording.js';

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
 * For each field that has a baseline, how the reading compares; one finding for all that have none.
 * With something grave found, "lowest so far, which does not make it low" would contradict it.
 * @param {object} measure
 * @param {object} facts
 * @param {object} context
 * @param {boolean} [grave]
 * @returns {object[]}
 */
export function baselineFindings(measure, facts, context, grave = false) {
  const names = Object.keys(measure.facts).filter((name) => measure.facts[name].baseline && isDecimal(facts[name]));
  const values = new Map(names.map((name) => [name, earlierValues(measure, name, facts, context)]));
  const first = names.filter((name) => values.get(name).length === 0);
  const compared = names.filter((name) => values.get(name).length > 0);
  const none = first.length ? [noBaseline(measure, first, compared.length > 0)] : [];
  return [...compared.flatMap((name) => fieldFindings(measure, name, facts[name], values.get(name), grave)), ...none];
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

function noBaseline(measure, names, some) {
  const label = some ? names.map((name) => factLabel(measure, name)).join(', ') : measure.title;
  return { ...findingOf(measure, 'none', { label }), field: names[0], baseline: null, count: 0 };
}

const EXTREME = /\.(lowest|highest)$/;

function fieldFindings(measure, name, value, values, grave) {
  const base = baseline(values);
  const told = kindsOf(measure, name, value, values, base).filter((found) => !grave || !EXTREME.test(found.rule));
  return told.map((found) => ({ ...found, field: name, baseline: base.value, count: base.count }));
}

function kindsOf(measure, name, value, values, base) {
  const words = wordsOf(measure, name, value, base);
  const limit = data.baseline.change_limits.find((row) => row.measure === measure.id && row.field === name);
  const difference = toScaled(value) - toScaled(base.value);
  if (limit) {
    const kind = Math.abs(difference) > toScaled(limit.limit) ? 'changed' : 'steady';
    // Decided by the exact limit, told as a person would say it.
    const told = roundText(limit.limit, limit.told_decimals);
    return [findingOf(measure, `${name}.${kind}`, { ...words, limit: told }, limit.source)];
  }
  const kinds = [difference ? 'difference' : 'same', ...extremes(value, values)];
  return kinds.map((kind) => findingOf(measure, `${name}.${kind}`, { ...words, count: String(values.length) }));
}

function extremes(value, values) {
  // Two of two is no record: only said once there is a baseline.
  if (values.length < data.baseline.first) return [];
  const [earlier, now] = [values.map(toScaled), toScaled(value)];
  if (now < Math.min(...earlier)) return ['lowest'];
  return now > Math.max(...earlier) ? ['highest'] : [];
}

function wordsOf(measure, name, value, base) {
  const { unit } = measure.facts[name];
  const words = { label: factLabel(measure, name), value, unit: unitWords(unit) };
  return { ...words, compared: comparedWords(value, unit, base) };
}

function comparedWords(value, unit, base) {
  const texts = data.baseline;
  const difference = toScaled(value) - toScaled(base.value);
  const direction = difference > 0 ? 'above' : difference ? 'below' : 'same';
  const provisional = base.provisional ? fill(texts.provisional, { count: String(base.count) }) : '';
  const size = fromScaled(Math.abs(difference));
  const told = { difference: size, unit: unitApart(unit, size), baseline: base.value, provisional };
  return fill(texts.compared[direction], told);
}

function findingOf(measure, name, words, source) {
  const text = data.baseline[name.split('.').at(-1)];
  return {
    rule: `${measure.id}.baseline.${name}`,
    against: 'baseline',
    level: text.level,
    word: text.word,
    because: fill(text.because, words),
    source: source ?? text.source,
    plain: text.plain,
  };
}
