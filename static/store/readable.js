// Reading rows when some of them may not open: a fault of the phone's storage, or somebody's meddling, must
// hide neither the other entries nor itself. What the server has is fetched again.
import {START} from './cursor.js';
import {entryIn} from './entries.js';
import {SYNC} from './schema.js';
import {Damaged} from './seal.js';

/** For a read whose value is worth nothing when it does not open. @param {unknown} otherwise */
export const orIfDamaged = (otherwise) => (failure) => {
  if (failure instanceof Damaged) return otherwise;
  throw failure;
};

/** The entry in a row, or null when the row does not open. */
export const entryOrNull = (row) => entryIn(row).catch(orIfDamaged(null));

/**
 * The entries in some rows, without those that do not open; their clients are fetched again.
 * @param {{run: Function}} db
 * @param {object[]} rows
 * @returns {Promise<object[]>}
 */
export async function readable(db, rows) {
  const entries = await Promise.all(rows.map(entryOrNull));
  const damaged = rows.filter((_row, index) => entries[index] === null);
  if (damaged.length) await db.run(['outbox', 'meta'], 'readwrite', (tx) => fetchAgain(tx, damaged));
  return entries.filter((entry) => entry !== null);
}

// What never reached the server cannot come from there: it stays as it is, and is told of as unreadable.
async function fetchAgain(tx, rows) {
  const unsent = new Set(await tx.objectStore('outbox').getAllKeys());
  const cursor = (await tx.objectStore('meta').get(SYNC))?.value ?? START;
  const wanted = new Map(cursor.fill.map((item) => [item.client, item]));
  for (const {id, client} of rows) if (!unsent.has(id)) wanted.set(client, {client, after: 0});
  await tx.objectStore('meta').put({key: SYNC, value: {...cursor, fill: [...wanted.values()]}});
}
