// The calls that vectors name, in JavaScript; tests/clinical/calls.py is the twin.
import * as clinical from '../../../static/clinical/index.js';

const CALLS = {
  evaluate: ({ expression, facts }) => ({ answer: clinical.evaluate(expression, facts) }),
  parse_number: ({ text, decimals }) => clinical.parseNumber(text, decimals),
  convert: ({ value, from, to }) => {
    try {
      return { value: clinical.convert(value, from, to) };
    } catch (error) {
      if (error instanceof RangeError) return { refused: true };
      throw error;
    }
  },
  cuff_for: ({ circumference }) => ({ cuff: clinical.cuffFor(circumference) }),
  baseline: ({ values }) => clinical.baseline(values),
  check_reading: ({ measure, body, context }) => clinical.checkReading(measure, body, context),
  normalise_body: ({ measure, body, context }) => clinical.normaliseBody(measure, body, context),
  shown_fields: ({ measure, body }) => ({ fields: clinical.shownFields(measure, body) }),
  judge_reading: ({ measure, body, context }) => {
    const judged = clinical.judgeReading(measure, body, context);
    return { ...judged, fired: Object.fromEntries(judged.findings.map(({ rule, level }) => [rule, level])) };
  },
  conclude_visit: ({ bodies, context }) => clinical.conclude(clinical.judgeVisit(bodies, context), context),
  conclude_readings: ({ readings, context }) => {
    const judged = readings.map(({ measure, body, ...marks }) => ({ ...clinical.judgeReading(measure, body, context), ...marks }));
    return clinical.conclude(judged, context);
  },
  figure: ({ measure, body, context }) => ({ figure: clinical.figure(measure, body, context) }),
  early_warning: ({ bodies, context }) => clinical.earlyWarning(bodies, context),
  resolve_entries: ({ entries }) => ({ chains: clinical.resolveEntries(entries) }),
  client_card: ({ entries, today }) => clinical.clientCard(entries, today),
  context_for: ({ entries, visit, today, settings }) => clinical.contextFor(entries, visit, today, settings),
};

/**
 * What the clinical core answers to a call.
 * @param {string} call
 * @param {object} given
 * @returns {object}
 */
export const answer = (call, given) => CALLS[call](given);
