// Decimal numbers as scaled integers: the same digits in Python and in the browser.

export const SCALE_DIGITS = 6;
export const MAX_DIGITS = 6; // before the point: keeps every scaled value, times a factor, inside 2**53
export const SCALE = 10 ** SCALE_DIGITS;
const DECIMAL = /^-?[0-9]{1,6}(\.[0-9]{1,6})?$/;

/**
 * Whether the text is a decimal this module can hold exactly.
 * @param {unknown} text
 * @returns {boolean}
 */
export const isDecimal = (text) => typeof text === 'string' && DECIMAL.test(text) && !text.endsWith('\n');

/**
 * The scaled integer of a decimal text.
 * @param {string} text
 * @returns {number}
 */
export function toScaled(text) {
  if (!isDecimal(text)) throw new RangeError('not a decimal');
  const [whole, part = ''] = text.replace('-', '').split('.');
  const scaled = Number(whole) * SCALE + Number(part.padEnd(SCALE_DIGITS, '0'));
  return text.startsWith('-') ? -scaled : scaled;
}

/**
 * The canonical decimal text: no trailing zeros, no minus zero.
 * @param {number} scaled
 * @returns {string}
 */
export function fromScaled(scaled) {
  const size = Math.abs(scaled);
  const part = size % SCALE;
  const fraction = String(part).padStart(SCALE_DIGITS, '0').replace(/0+$/, '');
  const text = String((size - part) / SCALE) + (fraction ? `.${fraction}` : '');
  return scaled < 0 ? `-${text}` : text;
}

/**
 * Integer division to the nearest, a half going up. `by` is positive.
 * @param {number} number
 * @param {number} by
 * @returns {number}
 */
export function divideHalfUp(number, by) {
  const [top, bottom] = [2 * number + by, 2 * by];
  // By way of the remainder, so that the quotient is exact and floored as in Python.
  const rest = ((top % bottom) + bottom) % bottom;
  return (top - rest) / bottom;
}

/**
 * The scaled value rounded half up to so many decimals.
 * @param {number} scaled
 * @param {number} decimals
 * @returns {number}
 */
export function roundScaled(scaled, decimals) {
  const step = 10 ** (SCALE_DIGITS - decimals);
  return divideHalfUp(scaled, step) * step;
}

/**
 * A decimal text rounded half up to so many decimals.
 * @param {string} text
 * @param {number} decimals
 * @returns {string}
 */
export const roundText = (text, decimals) => fromScaled(roundScaled(toScaled(text), decimals));

/**
 * The whole number nearest to the square root of top / bottom, a half going up; both at least 0 and 1.
 * @param {bigint} top
 * @param {bigint} bottom
 * @returns {number}
 */
export const nearestRoot = (top, bottom) => Number((wholeRoot((4n * top) / bottom) + 1n) / 2n);

// Newton's way, in whole numbers: a square root in floating point may miss the last digit.
function wholeRoot(number) {
  if (number < 2n) return number;
  let [root, next] = [number, (number + 1n) / 2n];
  while (next < root) [root, next] = [next, (next + number / next) / 2n];
  return root;
}
