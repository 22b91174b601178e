/** Which screen stands at which path. Paths carry opaque ids only. */
import {Caseload} from './caseload.js';
import {Client} from './client.js';
import {Conclusion} from './conclusion.js';
import {Correct} from './correct.js';
import {Emergency} from './emergency.js';
import {EmergencyReview} from './emergency_review.js';
import {DailyLife} from './described/daily_life.js';
import {Describe} from './described/describe.js';
import {Goals} from './described/goals.js';
import {Home} from './described/home.js';
import {Plan} from './described/plan.js';
import {Reassessment} from './due/reassessment.js';
import {DueList} from './due/due_list.js';
import {PlaceVisit} from './due/place_visit.js';
import {Reminders} from './reminders/reminders.js';
import {NewPrecaution, NewTarget, Standing} from './described/standing.js';
import {Entry} from './entry.js';
import {Finish} from './finish.js';
import {Measure, MeasureAgain} from './measure.js';
import {Missing} from './missing.js';
import {Phone} from './phone.js';
import {Today} from './today.js';
import {Visit} from './visit.js';

// What is described stands at the client, to read, and in a visit, to record.
const DESCRIBED = [['daily-life', DailyLife], ['goals', Goals], ['home', Home], ['plan', Plan], ['reassessment', Reassessment], ['describe/:kind', Describe],
  ['describe/:kind/:item', Describe], ['precaution', NewPrecaution], ['target', NewTarget], ['standing/:entry', Standing]];

const ROUTES = [
  ['/app/', Today],
  ['/app/caseload', Caseload],
  ['/app/due', DueList],
  ['/app/reminders', Reminders],
  ['/app/emergency', Emergency],
  ['/app/emergency/review', EmergencyReview],
  ['/app/phone', Phone],
  ['/app/client/:client', Client],
  ['/app/client/:client/plan-visit', PlaceVisit],
  ['/app/client/:client/entry/:entry', Entry],
  ['/app/client/:client/entry/:entry/correct', Correct],
  ['/app/client/:client/visit/:visit', Visit],
  ...['/app/client/:client', '/app/client/:client/visit/:visit'].flatMap((base) => DESCRIBED.map(([path, screen]) => [`${base}/${path}`, screen])),
  ['/app/client/:client/visit/:visit/conclusion', Conclusion],
  ['/app/client/:client/visit/:visit/finish', Finish],
  ['/app/client/:client/visit/:visit/:measure', Measure],
  ['/app/client/:client/visit/:visit/:measure/again', MeasureAgain],
];

/**
 * The screen and its parameters for a path.
 * @param {string} path
 * @returns {{screen: Function, params: Record<string, string>}}
 */
export function routeFor(path) {
  const parts = split(path);
  for (const [pattern, screen] of ROUTES) {
    const params = matched(split(pattern), parts);
    if (params) return {screen, params};
  }
  return {screen: Missing, params: {}};
}

function split(path) {
  return path.split('/').filter(Boolean);
}

function matched(pattern, parts) {
  if (pattern.length !== parts.length) return null;
  const params = {};
  for (const [index, part] of pattern.entries()) {
    if (part.startsWith(':')) params[part.slice(1)] = parts[index];
    else if (part !== parts[index]) return null;
  }
  return params;
}
