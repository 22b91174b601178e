/** The steps of a visit: which there are, which are done, what comes next. No screen here. */
import {counts, measureOrder, measures, resolveEntries, sections} from '../clinical/index.js';
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
 * @property {boolean} counts whether the visit is only complete with it
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
  return {id, title: measures[id].title, counts: counts(id), entry: one?.entry ?? null, root: one?.root ?? null,
    others: readings.filter((each) => each !== one)};
}

/** The next part the visit is not complete without. @param {Part[]} parts */
export function openPart(parts) {
  return parts.find((part) => part.counts && !part.entry);
}

/**
 * @typedef {object} Section a heading of the visit's screen with its lines
 * @property {string} id  @property {string} title
 * @property {(Part & {path: string, begun: boolean})[]} parts its measures
 * @property {{path: string, recorded: number}|null} screen where it leads to when it is no measures
 */

/**
 * What a visit can hold, as its screen lists it: measures with what is recorded and what is begun, and ways
 * to the screens that are no measures.
 * @param {object[]} entries all of the client  @param {{client: string, visit: string}} place
 * @param {string[]} draftKeys of what is half done on this phone
 * @returns {Section[]}
 */
export function visitSections(entries, {client, visit}, draftKeys) {
  const parts = visitParts(entries, visit);
  const begun = new Set(draftKeys);
  const base = `/app/client/${client}/visit/${visit}`;
  return sections.map(({id, title, path, kinds = []}) => ({
    id, title,
    parts: parts.filter((part) => measures[part.id].section === id)
      .map((part) => ({...part, path: `${base}/${part.id}`, begun: begun.has(draftKeyOf({client, visit}, part))})),
    screen: path === undefined ? null
      : {path: path.replace('{visit}', base).replace('{client}', `/app/client/${client}`), recorded: recordedOf(entries, visit, kinds)},
  }));
}

/** Under which what is typed for a part is kept. @param {{client: string, visit: string}} place @param {Part} part */
export function draftKeyOf({client, visit}, part) {
  return `${client}/${visit}:${part.id}${part.entry ? ':again' : ''}`;
}

function recordedOf(entries, visit, kinds) {
  return resolveEntries(entries)
    .filter((each) => each.entry.visit === visit && kinds.includes(each.entry.kind) && !each.voided).length;
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
