/** A precaution in words, also one that a newer version of the app recorded. */
import {precautions} from '../clinical/index.js';

const UNKNOWN = {label: 'A precaution this version does not know', words: 'Update the app to read it.', measures: []};

/**
 * @param {string} code
 * @returns {{label: string, words: string, measures?: string[]}}
 */
export function precautionOf(code) {
  return Object.hasOwn(precautions, code) ? precautions[code] : UNKNOWN;
}
