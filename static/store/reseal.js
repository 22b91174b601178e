// What an earlier version of the app kept unsealed is sealed once, in one transaction, when there is a key.
import {FORMAT, createSealer} from '../crypto/sealer.js';
import {SEALED_WITH} from './schema.js';

const ROOMS = {entries: 'id', outbox: 'id', drafts: 'key', cards: 'client', meta: 'key'};
const decoder = new TextDecoder('utf-8', {fatal: true});

/** @param {{run: Function}} db @param {CryptoKey} key */
export async function resealAll(db, key) {
  const sealer = createSealer(key);
  const names = Object.keys(ROOMS);
  const found = await db.run(names, 'readonly', async (tx) => {
    if (await tx.objectStore('meta').get(SEALED_WITH)) return null;
    return Promise.all(names.map(async (name) => [name, await tx.objectStore(name).getAll()]));
  });
  if (!found) return;
  const sealed = await Promise.all(found.flatMap(([name, rows]) => rows.filter(isOpen).map(async (row) => {
    const value = JSON.parse(decoder.decode(row.sealed));
    return [name, {...row, sealed: await sealer.seal(value, {store: name, id: placeIn(name, row)})}];
  })));
  await db.run(names, 'readwrite', async (tx) => {
    await Promise.all(sealed.map(async ([name, row]) => tx.objectStore(name).put(row)));
    await tx.objectStore('meta').put({key: SEALED_WITH, value: FORMAT});
  }, {durability: 'strict'});
}

const isOpen = (row) => row.sealed instanceof Uint8Array && row.sealed[0] !== FORMAT;

// A fact's place leaves out what its row's key begins with; see metaOf in index.js.
const placeIn = (name, row) => (name === 'meta' ? row.key.replace(/^fact:/, '') : row[ROOMS[name]]);
