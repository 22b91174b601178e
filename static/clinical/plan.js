// The plan: whether the readings of a visit changed, so that the plan is looked at again.
import { baselineFindings } from './baseline.js';
import { data, own } from './data.js';
import { deriveFacts } from './facts.js';

const CHANGES = ['changed', 'lowest', 'highest'];

/**
 * The readings that stand away from the client's own baseline.
 * Beyond the limit by which readings are known to vary; where no limit is published, lowest or highest so far.
 * @param {Object<string, object>} bodies by measure
 * @param {object} context
 * @returns {{measure: string, word: string, because: string}[]}
 */
export const changedReadings = (bodies, context) =>
  data.index.measures.filter((name) => own(bodies, name)).flatMap((name) =>
    changes(name, bodies[name], context).map(({ word, because }) => ({ measure: name, word, because })));

/**
 * Whether any reading of the visit changed.
 * @param {Object<string, object>} bodies
 * @param {object} context
 * @returns {boolean}
 */
export const hasChanged = (bodies, context) => changedReadings(bodies, context).length > 0;

const changes = (name, body, context) =>
  baselineFindings(data.measures[name], deriveFacts(name, body, context), context)
    .filter(({ rule }) => CHANGES.includes(rule.split('.').at(-1)));
