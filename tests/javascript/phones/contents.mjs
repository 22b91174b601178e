// Everything a person's database holds: as it is looked at past any store, and as plain JSON and back, which is
// what a phone's own backup keeps.
import {openDB} from '../../../static/node_modules/idb/build/index.js';
import {VERSION, upgrade} from '../../../static/store/schema.js';

const ROOMS = ['entries', 'outbox', 'drafts', 'cards', 'meta'];

const packed = (_key, value) => {
  if (value instanceof Uint8Array) return {$bytes: Buffer.from(value).toString('base64')};
  if (value instanceof Map) return {$map: [...value]};
  return value;
};
const unpacked = (_key, value) => {
  if (typeof value?.$bytes === 'string') return new Uint8Array(Buffer.from(value.$bytes, 'base64'));
  if (Array.isArray(value?.$map)) return new Map(value.$map);
  return value;
};

const open = (person) => openDB(`lintel-${person}`, VERSION, {upgrade});

/** The databases of one phone, kept open between two looks. */
export function createContents() {
  const databases = new Map();
  return {
    /** The rows of each room, of one moment. @param {string} person @returns {Promise<Record<string, object[]>>} */
    async rooms(person) {
      if (!databases.has(person)) databases.set(person, await open(person));
      const tx = databases.get(person).transaction(ROOMS);
      const found = await Promise.all(ROOMS.map(async (room) => [room, await tx.objectStore(room).getAll()]));
      return Object.fromEntries(found);
    },
    end() {
      for (const database of databases.values()) database.close();
      databases.clear();
    },
  };
}

/** @param {Record<string, object[]>} rows */
export const asJson = (rows) => JSON.parse(JSON.stringify(rows, packed));

/** @param {string} person @param {Record<string, object[]>} copy */
export async function fill(person, copy) {
  const db = await open(person);
  for (const [room, rows] of Object.entries(JSON.parse(JSON.stringify(copy), unpacked))) {
    for (const row of rows) await db.put(room, row);
  }
  db.close();
}

const known = new Map();

/**
 * What some sealed bytes say where they lie, asked of them once: the same bytes say the same.
 * @template T
 * @param {string} person whose key it is
 * @param {{id: string, client: string, sealed: Uint8Array|null}} row
 * @param {(row: object) => Promise<T>} opened
 * @returns {Promise<T>}
 */
export async function read(person, row, opened) {
  const bytes = row.sealed ? Buffer.from(row.sealed).toString('base64') : '';
  const key = [opened.name, person, row.id, row.client, bytes].join(' ');
  if (!known.has(key)) known.set(key, await opened(row));
  return known.get(key);
}

/** Forgets what was read in another world. */
export const forget = () => known.clear();
