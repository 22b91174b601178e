// One value against its field: kind, unit, digits, limits, choices.
import { data, isObject, own } from './data.js';
import { isDecimal, toScaled } from './decimals.js';
import { parseNumber } from './parse.js';
import { canonical, convert } from './units.js';
import { askFor, message, unitWords } from './wording.js';

/** @typedef {{field: string, code: string, message: string, offer?: {value: string, unit: string}}} Problem */

/**
 * One thing wrong, with its sentence.
 * @param {string} code
 * @param {string} path
 * @param {Object<string, string>} [values]
 * @returns {Problem}
 */
export const problem = (code, path, values = {}) => ({ field: path, code, message: message(code, values) });

/**
 * The error of a field that has to be filled in.
 * @param {object} field
 * @param {string} path
 * @returns {Problem}
 */
export const required = (field, path) => ({ field: path, code: 'required', message: askFor(field) });

/**
 * Whether nothing was filled in.
 * @param {unknown} value
 * @returns {boolean}
 */
export const missing = (value) =>
  value === undefined || value === null || value === '' || (Array.isArray(value) && value.length === 0);

/**
 * What is wrong with one value, or what to ask about it.
 * @param {object} field
 * @param {unknown} value
 * @param {string} path
 * @param {unknown} units
 * @param {object} [measure]
 * @param {object} [scope]
 * @returns {Problem[]}
 */
export function checkValue(field, value, path, units, measure, scope = {}) {
  if (field.type === 'number') return numberProblems(field, value, path, units, measure, scope);
  if (field.type === 'choice') return choiceProblems(field, value, path);
  if (field.type === 'choices') return choicesProblems(field, value, path);
  const right = field.type === 'flag' ? 'boolean' : 'string';
  if (typeof value !== right) return [problem('wrong_type', path, { label: field.label })];
  // Counted in code points, as Python counts.
  const tooLong = typeof value === 'string' && [...value].length > data.index.text_limit;
  return tooLong ? [problem('too_long', path)] : [];
}

function choiceProblems(field, value, path) {
  if (typeof value !== 'string') return [problem('wrong_type', path, { label: field.label })];
  const known = field.choices.some((choice) => choice.id === value);
  return known ? [] : [problem('unknown_choice', path, { label: field.label })];
}

function choicesProblems(field, value, path) {
  const { label, choices } = field;
  if (!Array.isArray(value) || !value.every((item) => typeof item === 'string')) {
    return [problem('wrong_type', path, { label })];
  }
  if (!value.every((item) => choices.some((choice) => choice.id === item))) {
    return [problem('unknown_choice', path, { label })];
  }
  if (new Set(value).size !== value.length) return [problem('repeated', path, { label })];
  const alone = choices.find((choice) => choice.alone && value.includes(choice.id));
  return alone && value.length > 1 ? [problem('alone', path, { label, choice: alone.label })] : [];
}

function numberProblems(field, value, path, units, measure, scope) {
  const { label } = field;
  const unit = isObject(units) && Object.hasOwn(units, path) ? units[path] : field.unit;
  if (!field.units.some((choice) => choice.code === unit)) return [problem('wrong_unit', path, { label })];
  if (typeof value !== 'string') return [problem('wrong_type', path, { label })];
  const parsed = parseNumber(value, field.decimals);
  if (parsed.error) return [{ field: path, code: parsed.error, message: parsed.message }];
  if (parsed.value !== value) return [problem('not_canonical', path, { value: parsed.value })];
  if (field.limits_of && measure) return limitsOf(field, path, measure, scope);
  return limitProblems(field, value, unit, path);
}

// A count has no limits of its own: the rate it gives is held against the rate's.
function limitsOf(field, path, measure, scope) {
  const judged = measure.fields.find((other) => other.id === field.limits_of);
  const rate = own(scope, judged.id);
  return isDecimal(rate) ? limitProblems(judged, rate, judged.unit, path, field) : [];
}

function limitProblems(field, value, unit, path, counted) {
  const words = { label: (counted ?? field).label, value, unit: unitWords(unit) };
  const ending = counted ? '_count' : '';
  if (!within(field.impossible, value, unit)) {
    const told = message(`impossible${ending}`, { ...words, ...limitWords(field, unit) });
    const offer = offerFor(field, value, unit);
    const found = { field: path, code: 'impossible', message: told + offerWords(offer, unit) };
    return [offer ? { ...found, offer } : found];
  }
  if (within(field.unlikely, value, unit)) return [];
  return [{ field: path, code: 'unlikely', message: message(`unlikely${ending}`, words), level: 'question' }];
}

// The limits in the unit that was typed; in the field's own where rounding would tell a refused value.
function limitWords(field, unit) {
  const { low, high } = field.impossible;
  const [bottom, top] = [low, high].map((limit) => convert(limit, field.unit, unit));
  const fit = [bottom, top].every((limit) => within(field.impossible, limit, unit));
  return fit ? { low: bottom, high: top, limit_unit: unitWords(unit) } : { low, high, limit_unit: unitWords(field.unit) };
}

function within(limits, value, unit) {
  const told = canonical(value, unit);
  // Converted, it is too large to be held: beyond every limit.
  if (!isDecimal(told)) return false;
  const scaled = toScaled(told);
  return toScaled(limits.low) <= scaled && scaled <= toScaled(limits.high);
}

// What was probably meant: the same digits in another unit, or with the point put back.
function offerFor(field, value, unit) {
  const guesses = field.units.filter((choice) => choice.code !== unit).map((choice) => [value, choice.code]);
  if (field.decimals === 1 && /^[0-9]{2,}$/.test(value)) {
    guesses.push([`${value.slice(0, -1)}.${value.slice(-1)}`.replace(/\.0$/, ''), unit]);
  }
  const likely = guesses.find(([guess, code]) => within(field.unlikely, guess, code));
  return likely && { value: likely[0], unit: likely[1] };
}

function offerWords(offer, unit) {
  if (!offer) return '';
  const kind = offer.unit === unit ? 'offer_point' : 'offer_unit';
  return message(kind, { value: offer.value, unit: unitWords(offer.unit) });
}
