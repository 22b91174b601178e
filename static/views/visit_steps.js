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
 * The parts of a visit in order, each with its entry when it is recorded.
 * @param {object[]} entries all entries of the client  @param {string} visitId
 * @returns {{id: string, title: string, entry: object|null}[]}
 */
export function visitParts(entries, visitId) {
  const effective = resolveEntries(entries).filter((each) => each.entry.visit === visitId && !each.voided);
  return measureOrder.map((id) => ({
    id,
    title: measures[id].title,
    entry: effective.filter((each) => each.entry.kind === id).at(-1)?.entry ?? null,
  }));
}

/** The newest effective entry of a kind in a visit. */
export function visitEntry(entries, visitId, kind) {
  return resolveEntries(entries)
    .filter((each) => each.entry.visit === visitId && each.entry.kind === kind && !each.voided).at(-1)?.entry ?? null;
}
