// The conclusion of a visit's readings, with its reasons.
import { data } from './data.js';
import { fill } from './wording.js';

const SILENT = ['go_on', 'note'];

/**
 * The highest level found, with reasons; nothing measured is never a go on.
 * @param {object[]} judgements
 * @param {object} [context]
 * @returns {{conclusion: string, reasons: object[], missing: string[]}}
 */
export function conclude(judgements, context) {
  const measured = judgements.filter((judgement) => judgement.measured).map((judgement) => judgement.measure);
  const missing = data.index.measures.filter((name) => !measured.includes(name));
  const reasons = ranked(judgements);
  if (measured.length === 0) reasons.push(reason('nothing_measured', {}));
  const conclusion = reasons.reduce((top, { level }) => (rank(level) > rank(top) ? level : top), 'go_on');
  if (conclusion === 'go_on') reasons.push(reason('all_clear', { measured: titles(measured) }));
  if (missing.length && measured.length) reasons.push(reason('missing', { missing: titles(missing) }));
  return { conclusion, reasons, missing };
}

function ranked(judgements) {
  const order = data.index.measures;
  const placed = judgements.toSorted((one, other) => order.indexOf(one.measure) - order.indexOf(other.measure));
  const reasons = placed.flatMap(({ measure, findings }) =>
    findings.filter(({ level }) => !SILENT.includes(level))
      .map(({ rule, level, because }) => ({ rule, measure, level, because })));
  return reasons.sort((one, other) => rank(other.level) - rank(one.level));
}

const rank = (level) => data.index.levels.indexOf(level);

function reason(name, words) {
  const text = data.conclusions.reasons[name];
  return { rule: `visit.${name}`, measure: null, level: text.level, because: fill(text.because, words) };
}

const titles = (names) =>
  data.index.measures.filter((name) => names.includes(name))
    .map((name) => data.measures[name].title.toLowerCase()).join(', ');
