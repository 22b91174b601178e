// The published early warning total: all seven parts, or no total.
import { data } from './data.js';
import { isDecimal, roundText } from './decimals.js';
import { evaluate } from './expressions.js';
import { deriveFacts } from './facts.js';
import { fill } from './wording.js';

/**
 * The total with its parts; total null when switched off, too young or incomplete.
 * @param {Object<string, object>} bodies by measure id
 * @param {object} [context]
 * @returns {{total: number|null, parts: object, missing: string[], band: string|null}}
 */
export function earlyWarning(bodies, context) {
  const table = data.early_warning;
  const { excludes, acknowledgement, source } = table;
  const answer = { total: null, parts: {}, missing: [], band: null, single_three: false, because: '' };
  Object.assign(answer, { excludes, acknowledgement, source });
  if (context?.settings?.early_warning !== true) return { ...answer, because: table.off };
  if (tooYoung(context, table)) return { ...answer, because: table.too_young };
  return { ...answer, ...scored(bodies, context, table) };
}

function tooYoung({ age }, table) {
  return evaluate({ lt: ['age', table.from_age] }, { age: Number.isInteger(age) ? String(age) : null }) === true;
}

function scored(bodies, context, table) {
  const derived = Object.entries(bodies).map(([measure, body]) => [measure, deriveFacts(measure, body, context)]);
  const facts = Object.fromEntries(derived);
  const parts = Object.fromEntries(table.parts.map((part) => [part.id, partOf(part, facts)]));
  const open = table.parts.filter((part) => parts[part.id].score === null);
  if (open.length) {
    const labels = open.map((part) => part.label.toLowerCase()).join(', ');
    return { parts, missing: open.map((part) => part.id), because: fill(table.incomplete, { missing: labels }) };
  }
  const scores = Object.values(parts).map((part) => part.score);
  const total = scores.reduce((sum, score) => sum + score, 0);
  const found = { total: String(total), single_three: scores.includes(3) };
  const band = table.bands.find((row) => evaluate(row.when, found) === true);
  return { total, parts, band: band.id, single_three: found.single_three, because: band.words };
}

function partOf(part, facts) {
  const [measure, name] = part.fact.split('.');
  const own = facts[measure] ?? {};
  let value = own[name] ?? null;
  if ('decimals' in part && isDecimal(value)) value = roundText(value, part.decimals);
  const row = part.scores.find(({ when }) => evaluate(when, { ...own, value }) === true);
  return { label: part.label, value, score: row ? row.score : null };
}
