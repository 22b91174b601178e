// A store over an in-memory IndexedDB, and invented entries to put in it.
import '../../../static/node_modules/fake-indexeddb/auto/index.mjs';
import {after} from 'node:test';
import {openStore, uuid7} from '../../../static/store/index.js';
import {holdKey} from '../../../static/store/seal.js';

export const USER = '01999999-0000-7000-8000-00000000000a';
export const CLIENT = '01999999-0000-7000-8000-0000000000c1';
export const OTHER = '01999999-0000-7000-8000-0000000000c2';
export const EPOCH = '5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c44';

// One key for every store of a test file: what a person's passphrase opens is tried in keys.test.mjs.
holdKey(await crypto.subtle.generateKey({name: 'AES-GCM', length: 256}, false, ['encrypt', 'decrypt']));

const opened = [];
after(() => Promise.all(opened.map((store) => store.close())));

let people = 0;

/** A store of a person nobody else in the file uses. */
export async function freshStore(options = {}) {
  people += 1;
  const userId = options.userId ?? `${USER.slice(0, -4)}${String(people).padStart(4, '0')}`;
  const store = await openStore(userId, {project, ...options});
  opened.push(store);
  return store;
}

/** A card that shows what it was made from. */
export const project = (entries, client) => ({client, kinds: entries.map((entry) => entry.kind)});

export const pulse = (rate = '72', client = CLIENT) => ({
  kind: 'pulse', client, visit: null, body: {fields: {rate}, units: {}, technique: [], confirmed: []},
});

/** An entry as another device made it and the server sent it. */
export const fromServer = (seq, client = CLIENT, more = {}) => ({
  id: uuid7(), kind: 'note', schema: 1, client, visit: null, recorded_at: '2026-11-25T09:40:12.123Z', utc_offset: 0,
  author: USER, device: '01999999-0000-7000-8000-0000000000d9', device_seq: seq, amends: null, voids: null,
  reason: null, body: {text: 'Rang the bell twice.'}, seq, received_at: '2026-11-25T09:41:00.000Z', ...more,
});

/** An answer's effect, with nothing in it unless given. */
export const change = ({verdicts = [], entries = [], confirmed = [], asked = {epoch: null, after: 0}, ...page} = {}) => ({
  verdicts, entries, confirmed,
  page: {asked: {fill: [], ...asked}, epoch: EPOCH, head: 0, after: 0, more: false, caseload: null, fill: [], refill: [],
    ...page},
});
