/** The steps of a visit: which there are, which are done, what comes next. No screen here. */
import {measureOrder, measures, resolveEntries} from '../clinical/index.js';
import {uuid7} from '../sync/messages.js';
import {isPlanned} from './planned.js';

/** The visit to go into from the client's screen: one begun today, else the one planned today, this therapist's first. */
export function currentVisit(card, today, therapist) {
  const open = card.visits.filter((visit) => !visit.finished);
  return open.find((visit) => visit.started && visit.date === today)
    ?? open.find((visit) => isPlanned(visit, today, therapist))
    ?? open.find((visit) => isPlanned(visit, today))
    ?? null;
}

/** The entry that begins a visit. A client seen for the first time gets both arms measured. */
export function visitStart(card, visit) {
  const id = visit?.visit ?? uuid7();
  const first = Object.keys(card.last).length === 0;
  return {kind: 'visit_started', schema: 1, client: card.client, visit: id, body: {first}};
}

/**
 * @typedef {object} Part a part of a visit
 * @property {string} id the measure
 * @property {string} title
 * @property {object|null} entry the reading that stands for it: of those nobody has measured again, the last
 * @property {string|null} root the first entry of its chain, which a repeat names
 * @property {{entry: object, root: string, repeated: boolean}[]} others its other readings at this visit
 */

/**
 * The parts of a visit in order, each with its readings.
 * @param {object[]} entries all entries of the client  @param {string} visitId
 * @returns {Part[]}
 */
export function visitParts(entries, visitId) {
  const standing = resolveEntries(entries).filter((each) => each.entry.visit === visitId && !each.voided);
  return measureOrder.map((id) => partOf(id, standing.filter((each) => each.entry.kind === id)));
}

function partOf(id, chains) {
  const named = new Set(chains.flatMap(({entry}) => entry.body.repeats ?? []));
  const readings = chains.map(({entry, root}) => ({entry, root, repeated: named.has(root)}));
  const one = readings.filter((each) => !each.repeated).at(-1) ?? readings.at(-1) ?? null;
  return {id, title: measures[id].title, entry: one?.entry ?? null, root: one?.root ?? null,
    others: readings.filter((each) => each !== one)};
}

/** What a reading measured again names: all of its kind that are there, so that it speaks for them. */
export function repeatsOf(part) {
  return [...part.others, ...(part.entry ? [part] : [])].map((each) => each.root);
}

/** The newest effective entry of a kind in a visit. */
export function visitEntry(entries, visitId, kind) {
  return resolveEntries(entries)
    .filter((each) => each.entry.visit === visitId && each.entry.kind === kind && !each.voided).at(-1)?.entry ?? null;
}
