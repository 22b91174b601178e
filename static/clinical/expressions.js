// The rule language: a few operators over facts, with three answers: true, false and null for unknown.
import { isObject, own } from './data.js';
import { isDecimal, toScaled } from './decimals.js';

/** @typedef {boolean|null} Answer */

/**
 * What the expression says about the facts; a missing fact makes it unknown.
 * @param {any} expression
 * @param {object} facts
 * @returns {Answer}
 */
export function evaluate(expression, facts) {
  if (typeof expression === 'boolean') return expression;
  const [[operator, parts]] = Object.entries(expression);
  const operation = own(OPERATORS, operator);
  if (!operation) throw new Error(`unknown operator ${operator}`);
  return operation(parts, facts);
}

function all(parts, facts) {
  const answers = parts.map((part) => evaluate(part, facts));
  if (answers.includes(false)) return false;
  return answers.includes(null) ? null : true;
}

function any(parts, facts) {
  const answers = parts.map((part) => evaluate(part, facts));
  if (answers.includes(true)) return true;
  return answers.includes(null) ? null : false;
}

function not(part, facts) {
  const answer = evaluate(part, facts);
  return answer === null ? null : !answer;
}

const operand = (value, facts) => (isObject(value) ? own(facts, value.fact) : value);

function eq([name, value], facts) {
  const [left, right] = [own(facts, name), operand(value, facts)];
  // A type that differs says nothing: in one language true equals 1, in the other it does not.
  if (left === undefined || left === null || typeof left !== typeof right || typeof left === 'object') return null;
  return left === right;
}

const ordering = (holds) => ([name, value], facts) => {
  const [left, right] = [own(facts, name), operand(value, facts)];
  if (!isDecimal(left) || !isDecimal(right)) return null;
  return holds(toScaled(left), toScaled(right));
};

const between = ([name, low, high], facts) => all([{ ge: [name, low] }, { le: [name, high] }], facts);

function isIn([name, values], facts) {
  const value = own(facts, name);
  return typeof value === 'string' ? values.includes(value) : null;
}

function has([name, item], facts) {
  const items = own(facts, name);
  return Array.isArray(items) ? items.includes(item) : null;
}

/** The operators by name. */
export const OPERATORS = {
  all,
  any,
  not,
  eq,
  lt: ordering((left, right) => left < right),
  le: ordering((left, right) => left <= right),
  gt: ordering((left, right) => left > right),
  ge: ordering((left, right) => left >= right),
  between,
  in: isIn,
  has,
};
