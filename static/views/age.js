/** A client's age today: cards keep the date of birth, since an age goes out of date by itself. */
import {ageOn} from '../clinical/index.js';
import {localDate} from './format.js';

/** @param {{details: {birth_date?: string}}} card @returns {number|null} whole years */
export function ageNow(card) {
  return ageOn(card.details.birth_date ?? null, localDate(new Date()));
}
