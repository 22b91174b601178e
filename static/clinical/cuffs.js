import { data } from './data.js';
import { roundText, toScaled } from './decimals.js';

/**
 * The cuff id for an arm circumference in cm (decimal text); null outside the table.
 * @param {string} circumference
 * @returns {string|null}
 */
export function cuffFor(circumference) {
  const whole = toScaled(roundText(circumference, 0));
  const fits = (cuff) => toScaled(cuff.low) <= whole && whole <= toScaled(cuff.high);
  return data.cuffs.cuffs.find(fits)?.id ?? null;
}
