// Which cards are out of date: one small row for all of them. A page of a sync may touch every client,
// and a row a client would be as many writes as the entries themselves.
import {STALE} from './schema.js';

/**
 * Marks by client. A mark is never given twice: a card is up to date only when it was made at the mark
 * that still stands.
 * @param {import('idb').IDBPTransaction} tx over "meta"
 * @returns {Promise<{last: number, marks: Map<string, number>}>}
 */
export const staleIn = async (tx) => (await tx.objectStore('meta').get(STALE))?.value ?? {last: 0, marks: new Map()};

/** Marks the clients' cards out of date, within the transaction that made them so. */
export async function markStale(tx, clients) {
  const touched = [...clients];
  if (!touched.length) return;
  const [{last, marks}, keys] = await Promise.all([staleIn(tx), tx.objectStore('cards').getAllKeys()]);
  const here = new Set(keys);
  for (const client of touched) marks.set(client, last + 1);
  await Promise.all([
    tx.objectStore('meta').put({key: STALE, value: {last: last + 1, marks}}),
    ...touched.filter((client) => !here.has(client)).map(async (client) => tx.objectStore('cards').put({client, sealed: null})),
  ]);
}

/**
 * Takes the marks off that still are as given.
 * @param {import('idb').IDBPTransaction} tx over "meta"
 * @param {{client: string, mark: number}[]} seen
 */
export async function unmark(tx, seen) {
  const {last, marks} = await staleIn(tx);
  for (const {client, mark} of seen) if (marks.get(client) === mark) marks.delete(client);
  await tx.objectStore('meta').put({key: STALE, value: {last, marks}});
}
