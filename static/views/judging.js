/** Judging the readings of a visit from the client's entries. */
import {conclude, contextFor, data, judgeReading, judgeVisit as judgeBodies} from '../clinical/index.js';
import {localDate} from './format.js';
import {visitParts} from './visit_steps.js';

/** The finding that speaks for a reading: the gravest, and with nothing grave the one against the adult range. */
export function gravest(findings) {
  const most = findings.reduce((so, each) => (weight(each) > weight(so) ? each : so), null);
  if (weight(most) > weight({level: 'note'})) return most;
  return findings.find((each) => each.against === 'adult_range') ?? most;
}

/** Findings in the order a reader needs them: what needs attention first, then what it was read against. */
export function gravestFirst(findings) {
  const order = (finding) => (weight(finding) > weight({level: 'note'}) ? -weight(finding) : AGAINST.indexOf(finding.against));
  return [...findings].sort((one, other) => order(one) - order(other));
}

// Among what needs no attention the range comes first: a small difference says little before it.
const AGAINST = ['adult_range', 'target', 'baseline', 'last_time', 'caution'];

function weight(finding) {
  return finding ? data.index.levels.indexOf(finding.level) : -1;
}

/**
 * Every recorded reading of a visit judged, and what the visit comes to. Several of a kind all count;
 * one that was measured again is told, and no longer decides.
 * @param {object[]} entries all of the client  @param {string} visitId  @param {object} settings
 */
export function judgeVisit(entries, visitId, settings) {
  const context = contextFor(entries, visitId, visitDay(entries, visitId), settings);
  const parts = visitParts(entries, visitId).filter((part) => part.entry);
  const bodies = Object.fromEntries(parts.map((part) => [part.id, part.entry.body]));
  const judgements = judgeBodies(bodies, context);
  const others = parts.flatMap((part) => part.others).filter(({entry}) => !entry.body.not_measured)
    .map(({entry, repeated}) => ({...judgeReading(entry.kind, entry.body, context), superseded: repeated}));
  const byMeasure = Object.fromEntries(judgements.filter((each) => each.measured).map((each) => [each.measure, withGravest(each)]));
  return {context, bodies, byMeasure, judgements, conclusion: conclude([...judgements, ...others], context)};
}

/**
 * Whether a recorded conclusion knew all that speaks now: readings may have come or changed since.
 * @param {{body: {reasons: string[]}}} recorded  @param {{reasons: {rule: string}[]}} now
 */
export function stillHolds(recorded, now) {
  const rules = (ids) => [...ids].sort().join(' ');
  return rules(recorded.body.reasons) === rules(now.reasons.map((reason) => reason.rule));
}

/** A judgement with its gravest level and word. */
export function withGravest(judgement) {
  const most = gravest(judgement.findings);
  return {judgement, level: most?.level ?? 'unknown', word: most?.word ?? ''};
}

/** The day the visit began: ages and histories are read as of that day, also when looking back. */
function visitDay(entries, visitId) {
  const times = entries.filter((entry) => entry.visit === visitId).map((entry) => entry.recorded_at).sort();
  return localDate(times.length > 0 ? new Date(times[0]) : new Date());
}
