// Facts that compare what was found at several moments: the largest fall, the peak, when it was back.
import { fromScaled, isDecimal, toScaled } from './decimals.js';

const NOT_YET = 'not_yet';

/**
 * Every fact the measure's data lists under "compared"; what lacks its values is left out.
 * @param {object} measure
 * @param {object} body
 * @param {object} facts
 * @returns {object}
 */
export const compared = (measure, body, facts) =>
  Object.fromEntries(measure.compared.map((each) => [each.fact, HOW[each.how](measure, each, facts)]));

// The numbers of a field at the moments named, in their order, each with its moment.
const valuesOf = ({ over, field }, facts) =>
  over.map((moment) => ({ value: facts[`${moment}_${field}`], moment }))
    .filter(({ value }) => isDecimal(value))
    .map(({ value, moment }) => ({ value: toScaled(value), moment }));

function extreme(pick, each, facts) {
  const values = valuesOf(each, facts).map(({ value }) => value);
  return values.length ? pick(...values) : null;
}

function before({ from, field }, facts) {
  const value = facts[`${from}_${field}`];
  return isDecimal(value) ? toScaled(value) : null;
}

const told = (scaled) => (scaled === null ? null : fromScaled(scaled));

const apart = (one, other) => (one === null || other === null ? null : fromScaled(one - other));

function lowestAt(measure, each, facts) {
  const values = valuesOf(each, facts);
  const lowest = Math.min(...values.map(({ value }) => value));
  return values.find(({ value }) => value === lowest)?.moment ?? null;
}

// The first moment at which the value is as it was before, within the margin the data gives.
function backAt(measure, each, facts) {
  const [base, values] = [before(each, facts), valuesOf(each, facts)];
  if (base === null || values.length === 0) return null;
  const limit = base + toScaled(measure.parameters[each.within].value);
  const back = values.find(({ value }) => value <= limit)?.moment;
  // Only the last moment says "not yet": before it, nobody has looked.
  return back ?? (values.at(-1).moment === each.over.at(-1) ? NOT_YET : null);
}

// What was ticked at any of the moments, each once; null when nobody was asked.
function ticked(measure, { over, field }, facts) {
  const names = over.map((moment) => `${moment}_${field}`);
  const lists = names.filter((name) => name in facts).map((name) => facts[name]);
  if (lists.length === 0) return null;
  const { choices } = measure.fields.find(({ id }) => id === names[0]);
  const all = new Set(lists.flat());
  return choices.filter((choice) => all.has(choice.id) && !choice.alone).map((choice) => choice.id);
}

function any(measure, each, facts) {
  const all = ticked(measure, each, facts);
  return all === null ? null : all.length > 0;
}

const HOW = {
  lowest: (measure, each, facts) => told(extreme(Math.min, each, facts)),
  highest: (measure, each, facts) => told(extreme(Math.max, each, facts)),
  fall: (measure, each, facts) => apart(before(each, facts), extreme(Math.min, each, facts)),
  rise: (measure, each, facts) => apart(extreme(Math.max, each, facts), before(each, facts)),
  lowest_at: lowestAt,
  back_at: backAt,
  told: ticked,
  any,
};
