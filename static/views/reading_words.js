/** Readings in words and figures. */
import {contextFor, deriveFacts, judgeReading, measureOrder, measures, summaryOf, unitLabel} from '../clinical/index.js';
import {withGravest} from './judging.js';
import {kindTitle} from './kinds.js';

/**
 * The figure of a reading with its unit, "128/76 mmHg".
 * @param {string} measureId  @param {object} body  @param {object} [facts] when they are already derived
 */
export function figureOf(measureId, body, facts) {
  if (body.not_measured) return 'Not measured';
  const figure = summaryOf(measures[measureId], facts ?? deriveFacts(measureId, body, {}));
  return figure.charAt(0).toLocaleUpperCase() + figure.slice(1);
}

/** The numbers of the thin scale: value, adult range, own target, own baseline of the measure's first value. */
export function scaleOf(measureId, judgement, context) {
  const field = measures[measureId].value[0];
  const value = judgement.facts[field];
  if (measures[measureId].facts[field]?.type !== 'number' || value === undefined) return null;
  const {usual} = judgement.findings.find((finding) => finding.usual && finding.scale?.field === field) ?? {};
  const {baseline} = judgement.findings.find((finding) => finding.against === 'baseline' && finding.field === field) ?? {};
  const target = context.targets.find((each) => each.measure === measureId && each.field === field) ?? null;
  return {value, low: usual?.low ?? null, high: usual?.high ?? null, target, baseline: baseline ?? null};
}

/** The newest reading of each measure, judged as of its own visit. */
export function lastReadings(entries, card) {
  return measureOrder.map((id) => card.last[id]).filter(Boolean).map(({entry}) => {
    const {judged, figure} = judgedEntry(entries, entry);
    return {entry, title: measures[entry.kind].title, figure, level: judged.level, word: judged.word};
  });
}

function judgedEntry(entries, {kind, body, visit, recorded_at: at}) {
  const judgement = judgeReading(kind, body, contextFor(entries, visit, at.slice(0, 10), {}));
  return {judged: withGravest(judgement), figure: figureOf(kind, body, judgement.facts)};
}

/** What an entry is, in a word or two. @param {object} entry */
export function entryTitle(entry) {
  const title = kindTitle(entry);
  if (entry.voids) return `${title}, taken back`;
  if (entry.body?.ended) return `${title}, ended`;
  return entry.amends ? `${title}, corrected` : title;
}

/** The chain an entry belongs to: original first, then each correction, and whether it was taken back. */
export function chainOf(entries, id) {
  const byId = new Map(entries.map((entry) => [entry.id, entry]));
  const seen = new Set();
  let root = byId.get(id);
  // A loop can only come from a broken device; it must not hold the screen.
  while (root && !seen.has(root.id) && byId.has(linkOf(root))) {
    seen.add(root.id);
    root = byId.get(linkOf(root));
  }
  if (!root) return [];
  const links = [root];
  for (const link of links) {
    links.push(...entries.filter((entry) => linkOf(entry) === link.id && !links.includes(entry)));
  }
  return links;
}

function linkOf(entry) {
  return entry.amends ?? entry.voids;
}

/** "Systolic", the name of the fact a target is set for. */
export function targetLabel({measure, field}) {
  return measures[measure]?.facts[field]?.label ?? field;
}

/** "120 to 150 mmHg", with either end open. */
export function targetRange({measure, field, low, high}) {
  const unit = unitLabel(measures[measure].facts[field].unit);
  if (low === null && high === null) return 'no limits given';
  if (low === null) return `${high} ${unit} or less`;
  return high === null ? `${low} ${unit} or more` : `${low} to ${high} ${unit}`;
}
