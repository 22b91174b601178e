// The clinical core in the browser: the twin of webapp/clinical, over the same data and the same vectors.
import { data } from './data.js';

export { baseline } from './baseline.js';
export { ageOn, clientCard, contextFor } from './card.js';
export { careFacts } from './care.js';
export { changesOf } from './changes.js';
export { checkReading } from './checks.js';
export { conclude } from './conclude.js';
export { cuffFor } from './cuffs.js';
export { earlyWarning } from './early_warning.js';
export { evaluate } from './expressions.js';
export { compareRatings, dailyLife, degrees, qualifierOf } from './daily_life.js';
export { dayIn, daysFrom, isDay, isWorking, plusDays, sayDay } from './days.js';
export { checkDescribed, describedItems, describedKinds, fieldChoices, observations } from './described.js';
export { deriveFacts, missedSteps, scopeFor, shownFields } from './facts.js';
export { figure } from './figure.js';
export { attainmentScore, goalProblems, goalsOverview, toldScore } from './goals.js';
export { placeFindings, ramp, seatFinding } from './home.js';
export { findingsAtOnce, judgeReading, judgeVisit } from './judge.js';
export { normaliseBody } from './normalise.js';
export { parseNumber } from './parse.js';
export { changedReadings, hasChanged } from './plan.js';
export { previewDates } from './preview.js';
export { dueItems, reassessmentDue, reassessmentFacts } from './reassessment.js';
export { resolveEntries } from './record.js';
export { checkRule, clientsRule, knownRules, rulesInForce } from './rules.js';
export { counts, sections } from './sections.js';
export { canonical, convert } from './units.js';
export { factLabel, factWords, fill, summaryOf, unitLabel } from './wording.js';
export { data };
export const { precautions, reasons, sources } = data;
/** The conclusions by id, with their words and what to do. */
export const conclusions = data.conclusions.conclusions;
/** The conclusions from the mildest to the gravest. */
export const conclusionOrder = data.index.levels.filter((level) => level in conclusions);

/** The measures by id. */
export const measures = data.measures;
/** The ids of the measures in the order of the screens. */
export const measureOrder = data.index.measures;
/** The version every judgement names. */
export const dataVersion = data.index.data_version;
