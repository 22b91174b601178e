// The conclusion of a visit's readings, with its reasons.
import { data } from './data.js';
import { counts } from './sections.js';
import { fill } from './wording.js';

const SILENT = ['go_on', 'note'];

/**
 * The highest level found, with reasons; nothing measured is never a go on.
 * Several judgements of one measure all count, but one marked "superseded" is only told. What is found in an offered
 * measure counts like all else; that it was left out neither raises nor lowers anything.
 * @param {object[]} judgements
 * @param {object} [context]
 * @returns {{conclusion: string, reasons: object[], missing: string[], recorded: number, of: number}}
 */
export function conclude(judgements, context) {
  const names = data.index.measures.filter(counts);
  const standing = judgements.filter((judgement) => !isSuperseded(judgement, judgements));
  const taken = new Set(standing.filter((judgement) => judgement.measured).map((judgement) => judgement.measure));
  const measured = names.filter((name) => taken.has(name));
  const missing = names.filter((name) => !taken.has(name));
  const offered = data.index.measures.filter((name) => taken.has(name) && !counts(name));
  const found = reasonsOf(standing);
  const reasons = graverFirst([...found, ...gaps(measured, offered, found)]);
  const conclusion = reasons[0]?.level ?? 'go_on';
  reasons.push(...earlier(judgements.filter((judgement) => !standing.includes(judgement))));
  if (missing.length && taken.size) reasons.push(reason('missing', { missing: titles(missing) }));
  if (offered.length) reasons.push(reason('offered', { offered: titles(offered) }));
  const [recorded, of] = [measured.length, names.length];
  const words = { recorded: String(recorded), of: String(of), measured: titles(measured) };
  if (conclusion === 'go_on') reasons.push(reason('all_clear', words));
  return { conclusion, reasons, missing, recorded, of };
}

// Measured again on purpose; with nothing measured in its place it still stands.
function isSuperseded(judgement, judgements) {
  const others = judgements.filter((other) => other.measure === judgement.measure);
  return Boolean(judgement.superseded) && others.some((other) => other.measured && !other.superseded);
}

// What has to be known before a go on.
function gaps(measured, offered, found) {
  const first = data.conclusions.comes_first;
  if (measured.length + offered.length === 0) return [reason('nothing_measured', {})];
  if (!measured.includes(first)) return [reason('presentation_missing', {})];
  return measured.length === 1 && found.length === 0 ? [reason('vitals_missing', {})] : [];
}

// The findings that matter, in the order of the measures.
function reasonsOf(judgements) {
  const order = data.index.measures;
  const placed = judgements.toSorted((one, other) => order.indexOf(one.measure) - order.indexOf(other.measure));
  return placed.flatMap(({ measure, findings }) =>
    findings.filter(({ level }) => !SILENT.includes(level))
      .map(({ rule, level, because }) => ({ rule, measure, level, because })));
}

const rank = (level) => data.index.levels.indexOf(level);

const graverFirst = (reasons) => reasons.toSorted((one, other) => rank(other.level) - rank(one.level));

// What a reading said that was measured again: told, and without weight.
const earlier = (judgements) =>
  graverFirst(reasonsOf(judgements))
    .map((told) => ({ ...told, level: 'note', because: fill(data.conclusions.earlier, told) }));

function reason(name, words) {
  const text = data.conclusions.reasons[name];
  return { rule: `visit.${name}`, measure: null, level: text.level, because: fill(text.because, words) };
}

const titles = (names) => names.map((name) => data.measures[name].title.toLowerCase()).join(', ');
