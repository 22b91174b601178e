// The home in numbers: the ramp a rise needs, what a measured place is held against, seats and lower leg.
import { data, own } from './data.js';
import { SCALE, fromScaled, isDecimal, nearestRoot, roundScaled, toScaled } from './decimals.js';
import { convert } from './units.js';
import { fill, unitLabel } from './wording.js';

/**
 * The ramp for a rise, lengths in the same unit; null for no rise or an unknown unit. `total` has the landings
 * between runs, `footprint` one more at each end, `surface` is along the slope.
 * @param {string} rise
 * @param {string} unit
 * @returns {object|null}
 */
export function ramp(rise, unit) {
  const rules = data.home.ramp;
  const printed = own(rules.figures, unit);
  if (!printed || !isDecimal(rise) || toScaled(rise) <= 0) return null;
  const figures = Object.fromEntries(Object.entries(printed).map(([name, value]) => [name, toScaled(value)]));
  const [height, per] = [toScaled(rise), rules.run_per_rise];
  const runs = Math.ceil(height / figures.rise_of_a_run);
  const total = height * per + (runs - 1) * figures.landing;
  // Told to a tenth: the root is taken of the slope in tenths.
  const surface = nearestRoot(BigInt(per ** 2 + 1) * (10n * BigInt(height)) ** 2n, BigInt(SCALE) ** 2n) * (SCALE / 10);
  const lengths = { run: height * per, total, footprint: total + 2 * figures.landing, surface };
  return {
    ...Object.fromEntries(Object.entries(lengths).map(([name, value]) => [name, fromScaled(value)])),
    runs,
    landings: runs - 1,
    rails: height > figures.rails_above,
    width: fromScaled(figures.width),
    landing: fromScaled(figures.landing),
    unit,
  };
}

/**
 * What a place's measures are outside of.
 * @param {object} fields
 * @returns {{id: string, field: string, word: string, because: string, source: string}[]}
 */
export const placeFindings = (fields) =>
  data.home.checks.filter((check) => check.for.includes(fields.type))
    .map((check) => checked(check, own(fields, check.field))).filter(Boolean);

function checked(check, length) {
  if (!length) return null;
  const { value, unit } = length;
  const end = 'below' in check ? 'below' : 'above';
  const limit = check[end][unit];
  const outside = end === 'below' ? toScaled(value) < toScaled(limit) : toScaled(value) > toScaled(limit);
  if (!outside) return null;
  const because = fill(check.because, { value, unit: unitLabel(unit), limit });
  return { id: check.id, field: check.field, word: check.word, because, source: check.source };
}

/**
 * How a seat's height stands to the lower leg; the difference is in the seat's unit.
 * @param {string} name
 * @param {{value: string, unit: string}} seat
 * @param {{value: string, unit: string}} leg
 * @returns {{rule: string, difference: string, unit: string, word: string, because: string, source: string}}
 */
export function seatFinding(name, seat, leg) {
  const [texts, { unit }] = [data.home.seat, seat];
  const length = toScaled(convert(leg.value, leg.unit, unit));
  const apart = roundScaled(toScaled(seat.value) - length, 1);
  const rule = apart < 0 ? 'lower' : apart > 0 ? 'higher' : 'same';
  const difference = fromScaled(Math.abs(apart));
  const words = { name, difference, unit: unitLabel(unit), leg: fromScaled(roundScaled(length, 1)) };
  return { rule, difference, unit, word: texts[rule].word, because: fill(texts[rule].because, words), source: texts.source };
}
