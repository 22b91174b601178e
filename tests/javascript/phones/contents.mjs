// Everything a person's database holds, as plain JSON and back: what a phone's own backup keeps.
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

/** The rows of each room, of one moment. @param {string} person @returns {Promise<Record<string, object[]>>} */
export async function rooms(person) {
  const db = await openDB(`lintel-${person}`, VERSION, {upgrade});
  const tx = db.transaction(ROOMS);
  const found = await Promise.all(ROOMS.map(async (room) => [room, await tx.objectStore(room).getAll()]));
  db.close();
  return Object.fromEntries(found);
}

/** The same as plain JSON. @param {string} person */
export const contents = async (person) => JSON.parse(JSON.stringify(await rooms(person), packed));

/** @param {string} person @param {Record<string, object[]>} copy */
export async function fill(person, copy) {
  const db = await openDB(`lintel-${person}`, VERSION, {upgrade});
  for (const [room, rows] of Object.entries(JSON.parse(JSON.stringify(copy), unpacked))) {
    for (const row of rows) await db.put(room, row);
  }
  db.close();
}
