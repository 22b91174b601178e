// Facts worked out as the measure's data says: a quotient, a table, the best of several tries, a reserve.
import { isObject, own } from './data.js';
import { divideHalfUp, fromScaled, isDecimal, roundScaled, SCALE, toScaled } from './decimals.js';
import { evaluate } from './expressions.js';

// One number over another, as a speed is a distance over a time; nothing over zero.
function divided(measure, body, facts) {
  const { fact, of, by, decimals } = measure.divided;
  const [top, bottom] = [facts[of], facts[by]];
  if (!isDecimal(top) || !isDecimal(bottom) || toScaled(bottom) <= 0) return {};
  const quotient = divideHalfUp(toScaled(top) * SCALE, toScaled(bottom));
  return { [fact]: fromScaled(roundScaled(quotient, decimals)) };
}

// A count as it is scored: another value in its place where the data's condition holds.
function scored(measure, body, facts) {
  const { fact, of, unless, otherwise } = measure.scored;
  return { [fact]: evaluate(unless, facts) === false ? otherwise : facts[of] ?? null };
}

// The value of the first row of the measure's table that holds for this person.
function lookedUp(measure, body, facts, context) {
  const { fact, rows } = measure.looked_up;
  const scope = { ...person(context), ...facts };
  return { [fact]: rows.find((row) => evaluate(row.when, scope) === true)?.value ?? null };
}

// The best try of each side, and of both.
function bestTries(measure, body) {
  const names = measure.best_tries;
  const rows = own(body.fields, names.series);
  const tries = Array.isArray(rows) ? rows.filter(isObject) : [];
  const found = Object.fromEntries(Object.entries(names.sides).map(([side, fact]) => {
    const mine = tries.filter((row) => row[names.by] === side).map((row) => row[names.value]);
    return [fact, greatest(mine.filter(isDecimal))];
  }));
  return { ...found, [names.best]: greatest(Object.values(found).filter((value) => value !== null)) };
}

const greatest = (values) => (values.length ? fromScaled(Math.max(...values.map(toScaled))) : null);

// The highest rate foretold from the age, and how much of the way up to it was used, in whole percent.
function rateReserve(measure, body, facts, context) {
  const [names, scope] = [measure.rate_reserve, person(context)];
  const row = names.rates.find(({ when }) => evaluate(when, scope) === true) ?? {};
  if (!('from' in row) || scope.age === null) return {};
  const highest = toScaled(row.from) - toScaled(row.per_year) * Number(scope.age);
  const [rest, peak] = [facts[names.rest], facts[names.peak]];
  const found = { [names.highest]: fromScaled(roundScaled(highest, 0)) };
  if (!isDecimal(rest) || !isDecimal(peak) || toScaled(rest) >= highest) return found;
  const used = divideHalfUp((toScaled(peak) - toScaled(rest)) * 100, highest - toScaled(rest));
  return { ...found, [names.used]: String(used) };
}

function person({ age, sex, precautions }) {
  return { sex: sex ?? null, age: Number.isInteger(age) ? String(age) : null, precautions: precautions ?? null };
}

/** These formulas by the name a measure gives in "derive". */
export const DERIVED = {
  divided,
  scored,
  looked_up: lookedUp,
  best_tries: bestTries,
  rate_reserve: rateReserve,
};
