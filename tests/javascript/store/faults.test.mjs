// What the browser's storage may do to us, and what must come of it.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {StoreError, uuid7} from '../../../static/store/index.js';
import {database} from '../../../static/store/database.js';
import {VERSION, upgrade} from '../../../static/store/schema.js';
import {CLIENT, change, freshStore, fromServer, pulse} from './helpers.mjs';

const {IDBDatabase, IDBObjectStore, indexedDB} = globalThis;

/** Replaces a method for as long as `during` runs; the stand-in gets the original first. */
async function withFault(owner, method, standIn, during) {
  const original = owner.prototype[method];
  owner.prototype[method] = function patched(...all) {
    return standIn.call(this, (...given) => original.apply(this, given), ...all);
  };
  try {
    return await during();
  } finally {
    owner.prototype[method] = original;
  }
}

const once = (fault) => {
  let done = false;
  return function standIn(original, ...all) {
    if (done) return original(...all);
    done = true;
    return fault.call(this, original, ...all);
  };
};
const failing = (name, message = '') => () => { throw new DOMException(message, name); };
const fresh = (options = {}) => database(`test-${uuid7()}`, {version: 1, upgrade: (db) => db.createObjectStore('a'), ...options});
const put = (db) => db.run(['a'], 'readwrite', (tx) => tx.objectStore('a').put(1, 'k'));
const rejectsWith = (promise, code) => assert.rejects(promise, (error) => {
  assert.ok(error instanceof StoreError, String(error));
  assert.equal(error.code, code);
  assert.match(error.message, /\.$/);
  return true;
});

async function nothingSaved(store) {
  assert.deepEqual(await store.entriesOf(CLIENT), []);
  assert.deepEqual(await store.counts(), {waiting: 0, held: 0, oldest: null});
  assert.equal(await store.lastDeviceSeq(), 0);
  assert.deepEqual(await store.cards(), []);
}

for (const [name, code] of [['QuotaExceededError', 'quota'], ['UnknownError', 'unknown'], ['DataError', 'unknown']]) {
  test(`a save that fails with ${name} saves nothing at all, says why, and the next one works`, async () => {
    const store = await freshStore();
    const entriesPut = function fault(original, ...all) {
      if (this.name === 'entries') throw new DOMException('', name);
      return original(...all);
    };
    await withFault(IDBObjectStore, 'add', entriesPut, () => rejectsWith(store.save(pulse()), code));
    await nothingSaved(store);
    await store.save(pulse());
    assert.equal(await store.lastDeviceSeq(), 1);
  });
}

test('a commit that aborts without an error event is a failure', async () => {
  const store = await freshStore();
  const abortLater = function fault(original, ...all) {
    const request = original(...all);
    if (this.name === 'cards') request.addEventListener('success', () => this.transaction.abort());
    return request;
  };
  await withFault(IDBObjectStore, 'put', abortLater, () => rejectsWith(store.save(pulse()), 'unknown'));
  await nothingSaved(store);
});

test('a save that gets no answer fails within its time; repeated under its id it is one entry', async () => {
  const store = await freshStore({patience: 1500});
  const form = {...pulse(), id: uuid7()};
  const never = function fault(original, ...all) {
    const spin = () => { this.get('nothing').onsuccess = spin; };
    if (this.name === 'outbox') spin();
    return original(...all);
  };
  await withFault(IDBObjectStore, 'add', never, () => rejectsWith(store.save(form), 'timeout'));
  await nothingSaved(store);
  await store.save(form);
  await store.save(form);
  assert.equal((await store.entriesOf(CLIENT)).length, 1);
});

test('work that never ends is given up and taken back', async () => {
  const db = fresh({patience: 40});
  await rejectsWith(db.run(['a'], 'readwrite', async (tx) => {
    tx.objectStore('a').put(1, 'k');
    for (;;) await tx.objectStore('a').get('k');
  }), 'timeout');
  assert.equal(await db.run(['a'], 'readonly', (tx) => tx.objectStore('a').get('k')), undefined);
});

test('an error the work throws on purpose comes out as it is, and nothing is kept', async () => {
  const db = fresh();
  const reason = new Error('ours');
  await assert.rejects(db.run(['a'], 'readwrite', async (tx) => {
    await tx.objectStore('a').put(1, 'k');
    throw reason;
  }), reason);
  assert.equal(await db.run(['a'], 'readonly', (tx) => tx.objectStore('a').get('k')), undefined);
});

for (const [name, message] of [['InvalidStateError', 'The database connection is closing.'],
  ['UnknownError', 'Connection to Indexed Database server lost. Refresh the page to try again']]) {
  test(`a connection lost once (${name}) is opened again and the save is there`, async () => {
    const store = await freshStore();
    await withFault(IDBDatabase, 'transaction', once(failing(name, message)), () => store.save(pulse()));
    assert.equal((await store.counts()).waiting, 1);
    await withFault(IDBDatabase, 'transaction', failing(name, message), () => rejectsWith(store.save(pulse()), 'lost'));
    await store.save(pulse('80'));
    assert.equal((await store.counts()).waiting, 2);
  });
}

test('a connection lost after the transaction had landed does not save twice', async () => {
  const store = await freshStore();
  const landedButLost = once(function fault(original, names, mode, options) {
    const transaction = original(names, mode, options);
    if (mode !== 'readwrite') return transaction;
    const listeners = {};
    const listen = transaction.addEventListener;
    transaction.addEventListener = (type, listener) => { listeners[type] = listener; };
    listen.call(transaction, 'complete', () => {
      const error = new DOMException('Connection to Indexed Database server lost.', 'UnknownError');
      Object.defineProperty(transaction, 'error', {value: error});
      listeners.error();
    });
    return transaction;
  });
  const writing = (original, names, mode, options) => (mode === 'readwrite'
    ? landedButLost(original, names, mode, options) : original(names, mode, options));
  await withFault(IDBDatabase, 'transaction', writing, () => store.save(pulse()));
  assert.equal((await store.entriesOf(CLIENT)).length, 1);
  assert.deepEqual([(await store.counts()).waiting, await store.lastDeviceSeq()], [1, 1]);
});

test('a window with a newer version is let through; the old one learns it at once and says why it cannot save', async () => {
  let tell;
  const told = new Promise((resolve) => { tell = resolve; });
  const old = fresh({onNewer: tell});
  await put(old);
  const newer = database(old.name, {version: 2, upgrade: () => {}});
  await put(newer);
  await told;
  await rejectsWith(put(old), 'newer');
});

test('a window that had no connection while the newer version came is told at its next look', async () => {
  let told = 0;
  const newer = fresh({version: 2});
  await put(newer);
  const old = database(newer.name, {version: 1, upgrade: () => {}, onNewer: () => { told += 1; }});
  await rejectsWith(put(old), 'newer');
  assert.equal(told, 1);
});

test('a window whose store another one removes makes none in its place by itself', async () => {
  const old = fresh({onNewer: () => assert.fail('nothing is newer')});
  await put(old);
  await new Promise((resolve) => { indexedDB.deleteDatabase(old.name).onsuccess = resolve; });
  const found = await new Promise((resolve) => {
    const request = indexedDB.open(old.name);  // behind whatever was asked before
    request.onupgradeneeded = ({oldVersion}) => resolve(oldVersion);
    request.onsuccess = () => resolve('made again');
  });
  assert.equal(found, 0);
});

test('an update blocked by another window says so, and goes on once that window is closed', async () => {
  const name = `test-${uuid7()}`;
  const other = await new Promise((resolve) => {
    const request = indexedDB.open(name, 1);
    request.onsuccess = () => resolve(request.result);
  });
  const db = database(name, {version: 2, upgrade: (raw) => raw.createObjectStore('a'), patience: 50});
  await rejectsWith(put(db), 'blocked');
  other.close();
  await new Promise((resolve) => { setTimeout(resolve, 20); });
  await put(db);
});

test('an answer that cannot be filed moves nothing: neither entries, nor verdicts, nor the cursor', async () => {
  const store = await freshStore();
  const entry = await store.save(pulse());
  const full = function fault(original, ...all) {
    if (this.name === 'meta') throw new DOMException('', 'QuotaExceededError');
    return original(...all);
  };
  const answer = change({verdicts: [{id: entry.id, verdict: 'applied', seq: 1}], entries: [fromServer(2)], head: 2, after: 2});
  await withFault(IDBObjectStore, 'put', full, () => rejectsWith(store.applyReply(answer), 'quota'));
  assert.equal((await store.counts()).waiting, 1);
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({id, seq}) => [id, seq]), [[entry.id, null]]);
  assert.equal((await store.cursor()).after, 0);
  await store.applyReply(answer);
  assert.deepEqual([(await store.counts()).waiting, (await store.cursor()).after], [0, 2]);
});

test('saves are flushed to disk; drafts need not be', async () => {
  const store = await freshStore();
  const seen = [];
  const note = (original, names, mode, options) => {
    if (mode === 'readwrite') seen.push([[...names].sort().join(), options.durability]);
    return original(names, mode, options);
  };
  await withFault(IDBDatabase, 'transaction', note, async () => {
    await store.save(pulse());
    await store.saveDraft('k', 1);
  });
  assert.deepEqual(seen, [['cards,entries,meta,outbox', 'strict'], ['drafts', 'relaxed']]);
});

test('the database of the first version opens with every later one', () => {
  assert.ok(VERSION >= 1);
  const made = [];
  upgrade({createObjectStore: (name) => made.push(name) && {createIndex: () => {}}}, 0);
  assert.deepEqual(made, ['entries', 'outbox', 'drafts', 'cards', 'meta']);
  upgrade({createObjectStore: () => assert.fail('made twice')}, VERSION);
});

test('what waits for a day by a clock that ran ahead for years goes once the clock is right', async () => {
  const store = await freshStore();
  const entry = await store.save(pulse());
  const now = Date.parse('2026-11-25T09:40:12.123Z');
  await store.settle([{id: entry.id, verdict: 'later', code: 'unknown_kind', until: Date.parse('2035-01-01T00:00:00Z')}]);
  assert.deepEqual((await store.unsent({now})).map(({id}) => id), [entry.id]);
  await store.settle([{id: entry.id, verdict: 'later', code: 'unknown_kind', until: now + 1000}]);
  assert.deepEqual(await store.unsent({now}), []);
});
