// Making entries, and turning them into rows and back.
import {canonical, uuid7} from '../sync/messages.js';
import {Damaged, open, seal} from './seal.js';

/**
 * @typedef {object} EntryDraft
 * @property {string} kind
 * @property {string} client
 * @property {string|null} [visit]
 * @property {object} [body]
 * @property {string|null} [amends]
 * @property {string|null} [voids]
 * @property {string|null} [reason]
 * @property {number} [schema]
 * @property {string} [id] made beforehand (uuid7), so that saving the same form twice is one entry
 */

/**
 * A complete entry from a draft.
 * @param {EntryDraft} draft
 * @param {{author: string, device: string, deviceSeq: number, now: number}} stamp
 * @returns {object}
 */
export function makeEntry(draft, {author, device, deviceSeq, now}) {
  const when = new Date(now);
  const entry = {
    id: draft.id ?? uuid7(now),
    kind: draft.kind,
    schema: draft.schema ?? 1,
    client: draft.client,
    visit: draft.visit ?? null,
    recorded_at: when.toISOString(),
    utc_offset: 0 - when.getTimezoneOffset(),
    author,
    device,
    device_seq: deviceSeq,
    amends: draft.amends ?? null,
    voids: draft.voids ?? null,
    reason: draft.reason ?? null,
    body: draft.body ?? {},
  };
  canonical(entry);  // a value that has no canonical form could never be sent
  return entry;
}

/** What two saves of one form have in common: all but the stamp. */
export const sameContent = (entry, draft) => canonical([
  entry.kind, entry.client, entry.visit, entry.amends, entry.voids, entry.reason, entry.body,
]) === canonical([
  draft.kind, draft.client, draft.visit ?? null, draft.amends ?? null, draft.voids ?? null,
  draft.reason ?? null, draft.body ?? {},
]);

const placeOf = (id) => ({store: 'entries', id});

/** The row for an entry; `here` when this device made it. */
export async function entryRow(entry, here) {
  const {seq = null, ...rest} = entry;
  return {
    id: entry.id,
    client: entry.client,
    seq,
    order: here ? entry.device_seq : null,
    sealed: await seal(rest, placeOf(entry.id)),
  };
}

/** The entry in a row, with the `seq` the row knows by now. */
export async function entryIn(row) {
  const entry = await open(row.sealed, placeOf(row.id));
  if (entry.client !== row.client) throw new Damaged('a row that stands with another client');
  return {...entry, seq: row.seq};
}

/** Newest knowledge last: by the server's order, then what it has not numbered in the order made. */
export function inOrder(rows) {
  return rows.toSorted((a, b) => (a.seq ?? Infinity) - (b.seq ?? Infinity) || (a.order ?? 0) - (b.order ?? 0)
    || (a.id < b.id ? -1 : 1));
}

export const outboxRow = (entry) => ({
  id: entry.id,
  client: entry.client,
  state: 'waiting',
  order: entry.device_seq,
  at: Date.parse(entry.recorded_at),
  until: null,
  sealed: null,
});

const detailsPlace = (id) => ({store: 'outbox', id});
export const sealDetails = (id, details) => seal(details, detailsPlace(id));
export const detailsIn = async (row) => (row.sealed ? open(row.sealed, detailsPlace(row.id)).catch(nothingIfDamaged) : {});

function nothingIfDamaged(failure) {
  if (failure instanceof Damaged) return {};
  throw failure;
}
