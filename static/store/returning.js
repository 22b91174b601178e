// What others recorded and a restored log has not brought: marked, to be handed back by the engine. A mark lies in
// the outbox: state "returning" until the server has a word on it, then gone, or "aside" when it keeps it aside.
import {millisecondsOf} from '../sync/messages.js';
import {markStale} from './stale.js';

export const RETURNING = 'returning';
export const ASIDE = 'aside';
export const isOthers = ({state}) => state === RETURNING || state === ASIDE;

/**
 * Marks what the log, read as far as it goes, has not brought; of one client, or of all.
 * @param {import('idb').IDBPTransaction} tx over "entries" and "outbox"
 * @param {string} [client]
 */
export async function markLost(tx, client) {
  const entries = tx.objectStore('entries');
  const outbox = tx.objectStore('outbox');
  const known = new Set(await outbox.getAllKeys());
  const rows = client ? entries.index('client').iterate(client) : entries.iterate();
  for await (const {value: {id, client: whose, order, seq}} of rows) {
    if (order !== null || seq !== null || known.has(id)) continue;
    await outbox.put({id, client: whose, state: RETURNING, order: null, at: millisecondsOf(id), until: null, sealed: null});
  }
}

/** In a new life of the log everything is asked anew. */
export async function forgetAnswers(tx) {
  for (let at = await tx.objectStore('outbox').openCursor(); at; at = await at.continue()) {
    if (at.value.state === ASIDE) await at.update({...at.value, state: RETURNING, sealed: null});
  }
}

/** Files a verdict other than "stored" on what was handed back. */
export async function settleReturned(tx, mark, verdict, sealed) {
  const outbox = tx.objectStore('outbox');
  if (verdict.code === 'erased') {
    await Promise.all([outbox.delete(mark.id), tx.objectStore('entries').delete(mark.id)]);
    await markStale(tx, [mark.client]);
  } else if (['held', 'clash'].includes(verdict.verdict)) {
    await outbox.put({...mark, state: ASIDE, sealed});
  } else {
    await outbox.put({...mark, until: verdict.until ?? null, sealed});
  }
}
