import assert from 'node:assert/strict';
import {test} from 'node:test';
import {CLIENT, OTHER, change, freshStore, fromServer, project, pulse} from './helpers.mjs';

const {IDBDatabase} = globalThis;

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
  assert.deepEqual(await storesRead(() => store.cards()), ['cards']);
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
