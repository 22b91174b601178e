// What a reading means: against the adult range, the client's own target, own baseline, and the last time.
import { baselineFindings } from './baseline.js';
import { data, isObject } from './data.js';
import { evaluate } from './expressions.js';
import { deriveFacts, scopeFor } from './facts.js';
import { lastTimeFindings } from './last_time.js';
import { insideTargets, softened, targetFindings } from './targets.js';
import { factWords, fill } from './wording.js';

/**
 * The facts of a reading and every finding about it, each naming its rule and source.
 * @param {string} measureId
 * @param {object} body
 * @param {object} [context]
 * @returns {{measure: string, measured: boolean, facts: object, findings: object[], data_version: string}}
 */
export function judgeReading(measureId, body, context) {
  const measure = data.measures[measureId];
  const facts = deriveFacts(measureId, body, context);
  const measured = measure.value.some((name) => name in facts);
  const findings = measured ? findingsOf(measure, facts, context ?? {}) : [];
  const judgement = { measure: measureId, measured, facts, findings, data_version: data.index.data_version };
  return isObject(body?.not_measured) ? { ...judgement, not_measured: body.not_measured } : judgement;
}

/**
 * All readings of a visit, each judged knowing the others.
 * @param {Object<string, object>} bodies
 * @param {object} [context]
 * @returns {object[]}
 */
export function judgeVisit(bodies, context) {
  const names = data.index.measures.filter((name) => Object.hasOwn(bodies, name));
  const reading_facts = Object.fromEntries(names.map((name) => [name, deriveFacts(name, bodies[name], context)]));
  return names.map((name) => judgeReading(name, bodies[name], { ...context, reading_facts }));
}

function findingsOf(measure, facts, context) {
  const scope = scopeFor(measure.id, facts, context);
  const judged = [...ruleFindings(measure, scope, facts, context), ...targetFindings(measure, facts, context)];
  const grave = judged.some(({ level }) => !['go_on', 'note'].includes(level));
  const own = [...judged, ...baselineFindings(measure, facts, context, grave)];
  return [...own, ...lastTimeFindings(measure, facts, scope, context)];
}

function ruleFindings(measure, scope, facts, context) {
  const { adult, not_judged: notJudged } = data.conclusions;
  const child = evaluate({ lt: ['age', adult.from_age] }, scope) === true;
  const rules = measure.rules.filter((rule) => !child || rule.against !== 'adult_range');
  const fired = firing(rules, scope);
  const words = factWords(measure, facts);
  const findings = fired.map((rule) => found(measure, rule, scope, context, words));
  if (child) {
    const text = { ...adult.child, source: adult.source };
    return [stated(measure, 'adult_only', text, { age: scope.age }), ...findings];
  }
  return saysSomething(measure, fired) ? findings : [...findings, stated(measure, 'not_judged', notJudged, {})];
}

/**
 * The rules that hold; of a group only the first.
 * @param {object[]} rules
 * @param {object} scope
 * @returns {object[]}
 */
export function firing(rules, scope) {
  const fired = [];
  for (const rule of rules) {
    const taken = rule.group && fired.some((other) => other.group === rule.group);
    if (!taken && evaluate(rule.when, scope) === true) fired.push(rule);
  }
  return fired;
}

/**
 * A rule that fired, in words.
 * @param {object} measure
 * @param {object} rule
 * @param {Object<string, string>} words
 * @returns {object}
 */
export function finding(measure, rule, words) {
  const { against, level, word, source, plain, scale } = rule;
  const because = fill(rule.because, words);
  const told = { rule: `${measure.id}.${rule.id}`, against, level, word, because, source, plain };
  return scale ? { ...told, scale } : told;
}

/**
 * What one answer alone calls for while the reading is still being taken: the rules that name a field to be told at.
 * @param {string} measureId
 * @param {object} body as far as it is filled in
 * @param {object} [context]
 * @returns {{field: string, rule: string, level: string, word: string, because: string}[]} each with the field answered last
 */
export function findingsAtOnce(measureId, body, context) {
  const measure = data.measures[measureId];
  const rules = measure.rules.filter((rule) => rule.at_once);
  if (rules.length === 0) return [];
  const facts = deriveFacts(measureId, body, context);
  const words = factWords(measure, facts);
  return firing(rules, scopeFor(measureId, facts, context ?? {}))
    .map((rule) => ({ field: rule.at_once.filter((id) => id in body.fields).at(-1), ...finding(measure, rule, words) }));
}

/**
 * The range in which this field would be a go on, all else (site, supply) being as it is.
 * @param {object} measure
 * @param {string} field
 * @param {object} scope
 * @returns {{low: string|null, high: string|null}|null}
 */
export function usualRange(measure, field, scope) {
  const rules = measure.rules.filter((rule) => rule.against === 'adult_range' && rule.level === 'go_on');
  const other = Object.fromEntries(Object.entries(scope).filter(([name]) => !measure.value.includes(name)));
  const fits = ({ scale, when }) =>
    scale.field === field && evaluate(when, { ...other, [field]: scale.low ?? scale.high }) !== false;
  const scale = rules.find(fits)?.scale;
  return scale ? { low: scale.low, high: scale.high } : null;
}

function found(measure, rule, scope, context, words) {
  const told = soften(measure, rule, scope, context, finding(measure, rule, words));
  if (rule.against !== 'adult_range') return told;
  return { ...told, usual: usualRange(measure, rule.scale.field, scope) };
}

// Whether a rule of the judging kind fired: silence must not look like a good answer.
function saysSomething(measure, fired) {
  const judging = measure.rules.some((rule) => rule.against === 'adult_range') ? 'adult_range' : 'caution';
  return fired.some((rule) => rule.against === judging || rule.judges);
}

function soften(measure, rule, scope, context, told) {
  // A prescribed range is the client's own already: no other target may soften a reading outside it.
  const fixed = rule.level !== 'take_care' || rule.softens === false;
  if (rule.against !== 'adult_range' || fixed) return told;
  const inside = insideTargets(measure, scope, context);
  // The rule without what is inside its target: if it still holds, something else carries it.
  const rest = Object.fromEntries(Object.entries(scope).filter(([name]) => !inside.has(name)));
  if (inside.size === 0 || evaluate(rule.when, rest) === true) return told;
  return softened(measure, told, inside);
}

const stated = (measure, name, text, words) => finding(measure, { id: name, against: 'caution', ...text }, words);
