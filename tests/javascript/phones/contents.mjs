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

/** @param {string} person @returns {Promise<Record<string, object[]>>} */
export async function contents(person) {
  const db = await openDB(`lintel-${person}`, VERSION, {upgrade});
  const rooms = ROOMS.filter((room) => db.objectStoreNames.contains(room));
  const found = await Promise.all(rooms.map(async (room) => [room, await db.getAll(room)]));
  db.close();
  return JSON.parse(JSON.stringify(Object.fromEntries(found), packed));
}

/** @param {string} person @param {Record<string, object[]>} copy */
export async function fill(person, copy) {
  const db = await openDB(`lintel-${person}`, VERSION, {upgrade});
  for (const [room, rows] of Object.entries(JSON.parse(JSON.stringify(copy), unpacked))) {
    for (const row of rows) await db.put(room, row);
  }
  db.close();
}
