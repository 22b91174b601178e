import assert from 'node:assert/strict';
import {test} from 'node:test';
import {createCards} from '../../../static/store/cards.js';
import {database} from '../../../static/store/database.js';
import {VERSION, upgrade} from '../../../static/store/schema.js';
import {CLIENT, EPOCH, OTHER, change, freshStore, fromServer, project, pulse} from './helpers.mjs';

const {IDBDatabase, IDBObjectStore} = globalThis;

async function storesRead(during) {
  const seen = new Set();
  const original = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function noted(names, ...rest) {
    names.forEach((name) => seen.add(name));
    return original.call(this, names, ...rest);
  };
  try {
    await during();
  } finally {
    IDBDatabase.prototype.transaction = original;
  }
  return [...seen];
}

test('the caseload reads cards only; entries are read for a card that is out of date, once', async () => {
  const made = [];
  const store = await freshStore({project: (entries, client) => {
    made.push(client);
    return project(entries, client);
  }});
  await store.applyReply(change({entries: [fromServer(1), fromServer(2, OTHER)], head: 2, after: 2,
    caseload: {version: 'v1', clients: [CLIENT, OTHER]}}));
  await store.cards();
  assert.deepEqual(made.toSorted(), [CLIENT, OTHER]);
  assert.deepEqual((await storesRead(() => store.cards())).toSorted(), ['cards', 'meta']);
  await store.save(pulse());
  assert.deepEqual((await store.card(CLIENT)).kinds, ['note', 'pulse']);
  await store.cards();
  assert.deepEqual(made.slice(2), [CLIENT]);
});

test('a save during the making of a card leaves it out of date, so it is made again', async () => {
  let saving = null;
  const store = await freshStore({project: (entries, client) => {
    saving ??= store.save(pulse('99'));
    return project(entries, client);
  }});
  await store.save(pulse('70'));
  await store.cards();
  await saving;
  assert.equal((await store.card(CLIENT)).kinds.length, 2);
});

test('a new projection makes every card anew, the same one none', async () => {
  const one = await freshStore({projectVersion: 'a'});
  await one.save(pulse());
  await one.cards();
  let made = 0;
  const counting = (entries, client) => {
    made += 1;
    return {client, shape: 'new'};
  };
  const same = await freshStore({userId: one.userId, projectVersion: 'a', project: counting});
  assert.deepEqual(await same.cards(), [{client: CLIENT, kinds: ['pulse']}]);
  assert.equal(made, 0);
  const newer = await freshStore({userId: one.userId, projectVersion: 'b', project: counting});
  assert.deepEqual(await newer.cards(), [{client: CLIENT, shape: 'new'}]);
  assert.equal(made, 1);
});

test('an entry that breaks the projection hides neither its client nor the others', async () => {
  const store = await freshStore({project: (entries, client) => {
    if (entries.some((entry) => entry.body.fields.rate === '71')) throw new Error('an entry nobody foresaw');
    return project(entries, client);
  }});
  await store.saveMany([pulse('70'), pulse('71', OTHER)]);
  assert.deepEqual(await store.cards(), [{client: CLIENT, kinds: ['pulse']}, {client: OTHER, kinds: [], incomplete: true}]);
  assert.equal((await store.entriesOf(OTHER)).length, 1);
});

async function writesTo(during) {
  const written = {};
  const original = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function noted(...all) {
    written[this.name] = (written[this.name] ?? 0) + 1;
    return original.apply(this, all);
  };
  try {
    await during();
  } finally {
    IDBObjectStore.prototype.put = original;
  }
  return written;
}

test('a page writes its entries and two rows more, however many clients it touches', async () => {
  const clients = Array.from({length: 40}, (_, i) => `client-${i}`);
  const page = (from) => change({entries: clients.map((client, i) => fromServer(from + i, client)), head: 80,
    asked: {epoch: from > 1 ? EPOCH : null, after: from - 1}, after: from + 39, caseload: {version: 'v1', clients}});
  const store = await freshStore();
  await store.applyReply(page(1));
  assert.deepEqual(await writesTo(() => store.applyReply(page(41))), {entries: 40, meta: 2});
  assert.deepEqual((await store.cards()).map(({kinds}) => kinds.length), clients.map(() => 2));
});

test('the cards can be read while pages keep coming', async () => {
  let pages = 0;
  const store = await freshStore({project: (entries, client) => {
    pages += 1;
    if (pages < 30) store.applyReply(change({entries: [fromServer(pages + 1)], head: 99, after: pages + 1}));
    return project(entries, client);
  }});
  await store.save(pulse());
  assert.equal((await store.cards()).length, 1);
  assert.ok(pages < 5, `made ${pages} times for one look`);
});

test('a window that was slow to file a card does not put it over a newer one', async () => {
  const store = await freshStore();
  const db = database(`lintel-${store.userId}`, {version: VERSION, upgrade});
  let letGo;
  const slow = {run: async (stores, mode, ...rest) => {
    if (mode === 'readwrite') await new Promise((resolve) => { letGo = resolve; });
    return db.run(stores, mode, ...rest);
  }};
  await store.save(pulse('70'));
  const filing = createCards(slow, {project, projectVersion: '1'}).one(CLIENT);
  while (!letGo) await new Promise((resolve) => { setTimeout(resolve); });
  await store.cards();
  await store.save(pulse('71'));
  letGo();
  await filing;
  await db.close();
  assert.equal((await store.card(CLIENT)).kinds.length, 2);
});

const clientNumber = (number) => `${CLIENT.slice(0, -2)}${String(number).padStart(2, '0')}`;
const pageOf = (number, clients, more) => change({entries: clients.map((client, at) => fromServer(100 * number + at, client)), head: 9999,
  after: 100 * number + clients.length, asked: {epoch: number === 1 ? null : EPOCH, after: number === 1 ? 0 : 100 * (number - 1) + clients.length},
  more, caseload: number === 1 ? {version: 'v1', clients} : null});

test('while pages follow each other no card is made again with each of them, and what is saved meanwhile shows', async () => {
  const made = [];
  const store = await freshStore({project: (entries, client) => {
    made.push(client);
    return project(entries, client);
  }});
  const clients = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10].map(clientNumber);
  for (const number of [1, 2, 3, 4, 5]) {
    await store.applyReply(pageOf(number, clients, true));
    await Promise.all([store.cards(), store.cards(), store.cards()]);
  }
  assert.deepEqual(made, [], 'lists show the cards as they stand');
  await store.save(pulse('70', clients[3]));
  assert.deepEqual((await store.cards()).map(({client, kinds}) => [client, kinds.length]), [[clients[3], 6]]);
  assert.equal((await store.card(clients[5])).kinds.length, 5, 'a client who is opened is up to date');
  await store.applyReply(pageOf(6, clients, false));
  assert.deepEqual((await store.cards()).map(({kinds}) => kinds.length), clients.map((client) => (client === clients[3] ? 7 : 6)));
  assert.equal(made.length, 2 + clients.length);
});

test('a sync that breaks off between two pages leaves no card behind', async () => {
  const store = await freshStore();
  await store.applyReply(pageOf(1, [CLIENT, OTHER], true));
  await store.refreshCards();
  assert.deepEqual((await store.cards()).map(({kinds}) => kinds.length), [1, 1]);
  await store.applyReply(change({entries: [fromServer(500)], head: 9999, after: 500, asked: {epoch: EPOCH, after: 102}, more: false}));
  assert.deepEqual((await store.cards()).map(({kinds}) => kinds.length), [2, 1]);
});

test('those who ask for the cards in one moment share the work, and each has what was there when it asked', async () => {
  const made = [];
  const store = await freshStore({project: (entries, client) => {
    made.push(client);
    return project(entries, client);
  }});
  const clients = [1, 2, 3].map(clientNumber);
  await store.applyReply(pageOf(1, clients, false));
  const opened = [];
  const {decrypt} = crypto.subtle;
  crypto.subtle.decrypt = function counted(...given) {
    opened.push(given[2].byteLength);
    return decrypt.apply(this, given);
  };
  // On a busy machine the three do not come to the reading in the same moment: it begins later here.
  const {setTimeout} = globalThis;
  globalThis.setTimeout = (act, wait = 500, ...given) => setTimeout(act, wait, ...given);
  try {
    const [one, two, three] = await Promise.all([store.cards(), store.cards(), store.cards()]);
    assert.deepEqual([one, two], [two, three]);
    assert.notEqual(one, two, 'a list of its own for each');
    assert.equal(made.length, 3);
    assert.equal(opened.length, 6, 'three entries for the cards, and three cards');
  } finally {
    delete crypto.subtle.decrypt;
    Object.assign(globalThis, {setTimeout});
  }
  const asking = store.cards();
  await store.save(pulse('71', clients[0]));
  assert.equal((await store.cards())[0].kinds.length, 2, 'whoever asks after a save has it');
  await asking;
});
