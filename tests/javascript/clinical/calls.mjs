// The calls that vectors name, in JavaScript; tests/clinical/calls.py is the twin.
import * as clinical from '../../../static/clinical/index.js';

// Facts of a care of which nothing is known: a vector names only what it is about.
const NO_FACTS = {
  visits: [], planned: [], done: [], reviews: {}, written: { 'care_period.starts_on': [] }, pauses: [], discharges: [],
  put_off: [], own_rules: [], client_rules: {}, changes: [],
};

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
  attainment_score: ({ parts }) => ({ score: clinical.attainmentScore(parts) }),
  told_score: ({ score }) => ({ told: clinical.toldScore(score) }),
  goal_problems: ({ fields }) => ({ problems: clinical.goalProblems(fields) }),
  goals_overview: ({ entries, visit }) => clinical.goalsOverview(entries, visit),
  ramp: ({ rise, unit }) => ({ ramp: clinical.ramp(rise, unit) }),
  place_findings: ({ fields }) => ({ findings: clinical.placeFindings(fields) }),
  seat_finding: ({ name, seat, leg }) => clinical.seatFinding(name, seat, leg),
  qualifier_of: ({ percent }) => ({ qualifier: clinical.qualifierOf(percent) }),
  compare_ratings: ({ before, now }) => ({ change: clinical.compareRatings(before, now) }),
  daily_life: ({ entries, visit }) => clinical.dailyLife(entries, visit),
  check_described: ({ kind, body, today }) => ({ problems: clinical.checkDescribed(kind, body, today) }),
  described_items: ({ entries, kind }) => ({ items: clinical.describedItems(entries, kind) }),
  changed_readings: ({ bodies, context }) => ({
    changed: clinical.changedReadings(bodies, context), any: clinical.hasChanged(bodies, context),
  }),
  day_in: ({ moment, zone }) => {
    try {
      return { day: clinical.dayIn(moment, zone) };
    } catch (error) {
      if (error instanceof RangeError) return { refused: true };
      throw error;
    }
  },
  due_items: ({ facts, calendar, service }) => clinical.dueItems({ ...NO_FACTS, ...facts }, calendar, service),
  reassessment_due: ({ entries, calendar, service }) => clinical.reassessmentDue(entries, calendar, service),
  preview_dates: ({ rule, start, calendar, count }) => ({ dates: clinical.previewDates(rule, start, calendar, count) }),
  check_rule: ({ rule }) => ({ problems: clinical.checkRule(rule) }),
  context_for: ({ entries, visit, today, settings }) => clinical.contextFor(entries, visit, today, settings),
};

/**
 * What the clinical core answers to a call.
 * @param {string} call
 * @param {object} given
 * @returns {object}
 */
export const answer = (call, given) => CALLS[call](given);
