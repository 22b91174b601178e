/** What a measure gave at the visit before: shown beside the empty field, never filled in. */
import {deriveFacts, factWords, measures, resolveEntries, unitLabel} from '../clinical/index.js';
import {sayDay} from './format.js';
import {figureOf} from './reading_words.js';

/**
 * By kind, the newest reading from another visit that was taken and stands.
 * @param {object[]} entries of one client  @param {string} visitId
 * @returns {Record<string, object>}
 */
export function readingsBefore(entries, visitId) {
  const standing = resolveEntries(entries).filter(({entry, voided}) => measures[entry.kind] && entry.visit !== visitId && !voided && entry.body.fields);
  return Object.fromEntries(standing.map(({entry}) => [entry.kind, entry]));
}

/** The newest of one kind, or null. @param {object[]} entries @param {string} measureId @param {string} visitId */
export const lastReading = (entries, measureId, visitId) => readingsBefore(entries, visitId)[measureId] ?? null;

/** "Last time: 117/75 mmHg, Tue 3 Mar"; empty without a reading. @param {object|undefined} entry */
export function lastLine(entry) {
  return entry ? `Last time: ${figureOf(entry.kind, entry.body)}, ${sayDay(entry.recorded_at, entry.utc_offset)}` : '';
}

/**
 * A line for each field that had a value, such as {seconds: "Last time: 12.4 s, Tue 3 Mar"}.
 * @param {object|null} entry  @param {object} context of the judgement
 * @returns {Record<string, string>}
 */
export function lastWords(entry, context) {
  if (!entry) return {};
  const measure = measures[entry.kind];
  const words = factWords(measure, deriveFacts(entry.kind, entry.body, context));
  const day = sayDay(entry.recorded_at, entry.utc_offset);
  const lines = {};
  for (const field of measure.fields) {
    const value = field.type === 'series' ? figureOf(entry.kind, entry.body) : words[field.id];
    const told = value !== undefined && field.id in entry.body.fields && field.type !== 'text';
    if (told) lines[field.id] = `Last time: ${value}${field.type === 'number' ? ` ${unitLabel(field.unit)}` : ''}, ${day}`.replace(/ ,/, ',');
  }
  return lines;
}

