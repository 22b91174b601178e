// The server's receipts: what proves to it, after a restore, that it once handed out what this phone holds. Each
// is a row of "meta" beside its page, sealed; the ids it covers lie open, so that it can be let go in a transaction.
import {uuid7} from '../sync/messages.js';
import {orIfDamaged} from './readable.js';
import {open, seal} from './seal.js';

const PREFIX = 'receipt:';
const rows = (tx) => tx.objectStore('meta').getAll(IDBKeyRange.bound(PREFIX, `${PREFIX}\uffff`));
const placeOf = (key) => ({store: 'meta', id: key});

/**
 * The row for the receipt of one page, or null.
 * @param {{receipt: string, ids: string[], hashes: string[]}|null} given
 */
export async function receiptRow(given) {
  if (!given) return null;
  const key = `${PREFIX}${uuid7()}`;
  return {key, ids: given.ids, sealed: await seal({receipt: given.receipt, hashes: given.hashes}, placeOf(key))};
}

/**
 * The receipts that cover any of some entries, the oldest first; one that does not open proves nothing.
 * @param {{run: Function}} db
 * @param {string[]} ids
 */
export async function receiptsFor(db, ids) {
  const wanted = new Set(ids);
  const found = await db.run(['meta'], 'readonly', rows);
  const covering = found.filter((row) => row.ids.some((id) => wanted.has(id)));
  const opened = await Promise.all(covering.map(({key, ids: covered, sealed}) => open(sealed, placeOf(key))
    .then((inside) => ({...inside, ids: covered}), orIfDamaged(null))));
  return opened.filter((receipt) => receipt !== null);
}

/** Lets go of receipts for nothing that is still here, and of the older of two for the same. @param {import('idb').IDBPTransaction} tx */
export async function forgetReceipts(tx) {
  const [found, here] = await Promise.all([rows(tx), tx.objectStore('entries').getAllKeys()]);
  const uncovered = new Set(here);
  const idle = found.reverse().filter(({ids}) => {
    const needed = ids.some((id) => uncovered.has(id));
    if (needed) for (const id of ids) uncovered.delete(id);
    return !needed;
  });
  await Promise.all(idle.map(({key}) => tx.objectStore('meta').delete(key)));
}
