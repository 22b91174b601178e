// A reading in one line: its figure, with units as they were typed.
import { data, isObject } from './data.js';
import { deriveFacts } from './facts.js';
import { message, summaryOf } from './wording.js';

/**
 * Such as "128/76 mmHg", "98.2 °F (36.8 °C), mouth", "Dizzy, unsteady; awake".
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {string}
 */
export function figure(measureId, body, context) {
  if (isObject(body.not_measured)) return message('not_measured');
  const measure = data.measures[measureId];
  const text = summaryOf(measure, deriveFacts(measureId, body, context));
  return text.charAt(0).toUpperCase() + text.slice(1);
}
