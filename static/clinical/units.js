// Conversion between a unit and the canonical one of its kind.
import { data, own } from './data.js';
import { divideHalfUp, fromScaled, roundScaled, toScaled } from './decimals.js';

/**
 * The decimal text in the other unit, rounded half up to two decimals; throws when they don't mix.
 * @param {string} value
 * @param {string} source
 * @param {string} target
 * @returns {string}
 */
export function convert(value, source, target) {
  const [from, to] = [own(data.units, source), own(data.units, target)];
  if (!from || !to) throw new RangeError('unknown unit');
  if (from.canonical !== to.canonical) throw new RangeError('these units measure different things');
  if (source === target) return value;
  const scaled = fromCanonical(toCanonical(toScaled(value), from), to);
  return fromScaled(roundScaled(scaled, ('decimals' in from ? from : to).decimals));
}

/**
 * The decimal text in the canonical unit of its kind.
 * @param {string} value
 * @param {string} unit
 * @returns {string}
 */
export const canonical = (value, unit) => convert(value, unit, data.units[unit].canonical);

function toCanonical(scaled, rule) {
  if (!('times' in rule)) return scaled;
  return divideHalfUp((scaled - toScaled(rule.subtract)) * rule.times, rule.over);
}

function fromCanonical(scaled, rule) {
  if (!('times' in rule)) return scaled;
  return divideHalfUp(scaled * rule.over, rule.times) + toScaled(rule.subtract);
}
