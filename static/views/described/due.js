/** What of that which is described still has to be asked at a visit. No screen here. */
import {dailyLife, goalsOverview} from '../../clinical/index.js';

/** The activities nobody has asked about at this visit. @param {{activities: object[]}} life */
export const activitiesToAsk = ({activities}) => activities.filter(({now, fields}) => !now && !fields.ended);

/** True for a goal that cannot be scored as it is described. */
export const cannotBeScored = (goal) => goal.problems.some(({stops}) => stops);

/** The goals nobody has reviewed at this visit. @param {{goals: object[]}} overview */
export const goalsToReview = ({goals}) => goals.filter((goal) => !goal.fields.ended && !cannotBeScored(goal) && !goal.now);

/**
 * By section, what is due in words, such as {goals: "2 to review"}; a section with nothing due is missing.
 * @param {object[]} entries all of the client  @param {string} visit
 * @returns {Record<string, string>}
 */
export function dueWords(entries, visit) {
  const counts = {
    daily_life: [activitiesToAsk(dailyLife(entries, visit)).length, 'to ask'],
    goals: [goalsToReview(goalsOverview(entries, visit)).length, 'to review'],
  };
  return Object.fromEntries(Object.entries(counts).filter(([, [count]]) => count > 0).map(([section, words]) => [section, words.join(' ')]));
}
