// Goal attainment scaling: what keeps a goal from being scored, and the T-score in exact arithmetic.
import { nowAndBefore } from './daily_life.js';
import { data } from './data.js';
import { fromScaled, nearestRoot, roundScaled, toScaled } from './decimals.js';
import { describedItems, observationsByItem } from './described.js';
import { fill } from './wording.js';

const PLACES = 10 ** 6; // digits kept of the score: the same in both languages

/**
 * T to six decimals; null when nothing weighs anything.
 * T = 50 + 10 S / sqrt((1 - r) Q + r W^2) with S the sum of weight times level, Q of squared weights, W of
 * weights, r the expected correlation of the goals. With r in tenths all of it is whole under the root.
 * @param {{weight: number, level: number}[]} parts whole numbers, levels -2 to 2
 * @returns {string|null}
 */
export function attainmentScore(parts) {
  const tenths = data.goals.correlation_tenths;
  const sum = (numbers) => numbers.reduce((so, number) => so + number, 0);
  const total = sum(parts.map(({ weight }) => weight));
  const squares = sum(parts.map(({ weight }) => weight ** 2));
  const bottom = (10 - tenths) * squares + tenths * total ** 2;
  if (bottom === 0) return null;
  const reached = sum(parts.map(({ weight, level }) => weight * level));
  const size = nearestRoot(10n * (10n * BigInt(PLACES) * BigInt(reached)) ** 2n, BigInt(bottom));
  return fromScaled(50 * PLACES + (reached >= 0 ? size : -size));
}

/**
 * The score as it is told: one decimal.
 * @param {string} score
 * @returns {string}
 */
export const toldScore = (score) => fromScaled(roundScaled(toScaled(score), 1));

/**
 * What is wrong with a goal's wording and numbers.
 * @param {object} fields
 * @returns {{code: string, stops: boolean, message: string}[]}
 */
export function goalProblems(fields) {
  const said = data.goals.levels.map(({ label, field }) => ({ label, text: plain(fields[field]) }));
  const labels = (list) => list.map(({ label }) => label);
  const missing = said.filter(({ text }) => !text);
  const alike = said.filter(({ text }) => text && said.filter((other) => other.text === text).length > 1);
  const found = [];
  if (missing.length) found.push(problem('missing_levels', labels(missing)));
  if (alike.length) found.push(problem('overlapping_levels', labels(alike)));
  if ((fields.baseline ?? null) === null) found.push(problem('no_baseline', []));
  else if (Number(fields.baseline) >= 0) found.push(problem('no_room', []));
  if ([fields.importance, fields.difficulty].includes('0')) found.push(problem('no_weight', []));
  return found;
}

// A text as it is compared: neither case nor spaces nor a full stop make another level.
const plain = (text) => String(text ?? '').trim().split(/\s+/).join(' ').replace(/\.+$/, '').toLowerCase();

function problem(code, levels) {
  const told = data.goals.problems[code];
  return { code, stops: told.stops, message: fill(told.message, { levels: levels.join(', ') }) };
}

/**
 * The goals and their scores as of a visit. The scores are over the goals that can be scored and have a
 * review; each is null where a level is missing.
 * @param {object[]} entries
 * @param {string|null} visit
 * @returns {{goals: object[], scored: number, weighted: boolean, baseline: string|null, before: string|null, now: string|null}}
 */
export function goalsOverview(entries, visit) {
  const reviews = observationsByItem(entries, 'goal_review');
  const goals = describedItems(entries, 'goal').map((item) => goalOf(item, reviews.get(item.item) ?? [], visit));
  const scored = goals.filter((goal) => goal.now && !goal.problems.some(({ stops }) => stops));
  const given = scored.map(weightOf);
  const weighted = scored.length > 0 && !given.includes(null);
  const weights = weighted ? given : scored.map(() => 1);
  const score = (level) => scoreOf(weights, scored.map(level));
  return {
    goals, scored: scored.length, weighted,
    baseline: score((goal) => goal.fields.baseline),
    before: score((goal) => levelOf(goal.before)),
    now: score((goal) => levelOf(goal.now)),
  };
}

function goalOf(item, reviews, visit) {
  const { now, before } = nowAndBefore(reviews, visit);
  return { ...item, now, before, problems: goalProblems(item.fields) };
}

function weightOf({ fields: { importance = null, difficulty = null } }) {
  return importance === null || difficulty === null ? null : Number(importance) * Number(difficulty);
}

const levelOf = (review) => review?.fields.level ?? null;

function scoreOf(weights, levels) {
  if (levels.length === 0 || levels.includes(null)) return null;
  const score = attainmentScore(levels.map((level, at) => ({ weight: weights[at], level: Number(level) })));
  return score === null ? null : toldScore(score);
}
