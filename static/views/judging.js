/** Judging the readings of a visit from the client's entries. */
import {conclude, contextFor, judgeReading, measureOrder} from '../clinical/index.js';
import {localDate} from './format.js';
import {visitParts} from './visit_steps.js';

const WEIGHT = ['go_on', 'note', 'take_care', 'stop_and_seek_advice', 'urgent_help'];

/** The gravest finding, and of several the first. */
export function gravest(findings) {
  return findings.reduce((most, each) => (WEIGHT.indexOf(each.level) > WEIGHT.indexOf(most?.level ?? '') ? each : most), null);
}

/**
 * Every recorded reading of a visit judged, and what the visit comes to.
 * @param {object[]} entries all of the client  @param {string} visitId  @param {object} settings
 */
export function judgeVisit(entries, visitId, settings) {
  const context = contextFor(entries, visitId, visitDay(entries, visitId), settings);
  const parts = visitParts(entries, visitId);
  const byMeasure = {};
  for (const part of parts) {
    if (part.entry && !part.entry.body.not_measured) byMeasure[part.id] = judged(part.id, part.entry.body, context);
  }
  const judgements = measureOrder.map((id) => byMeasure[id]?.judgement).filter(Boolean);
  return {context, byMeasure, judgements, conclusion: conclude(judgements, context)};
}

function judged(measureId, body, context) {
  const judgement = judgeReading(measureId, body, context);
  const most = gravest(judgement.findings);
  return {judgement, level: most?.level ?? 'unknown', word: most?.word ?? ''};
}

/** The day the visit began: ages and histories are read as of that day, also when looking back. */
function visitDay(entries, visitId) {
  const times = entries.filter((entry) => entry.visit === visitId).map((entry) => entry.recorded_at).sort();
  return localDate(times.length > 0 ? new Date(times[0]) : new Date());
}
