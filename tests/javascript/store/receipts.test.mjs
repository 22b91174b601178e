// The server's receipts in the store: kept with their page, sealed, and let go when they prove nothing any more.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {CLIENT, EPOCH, OTHER, change, freshStore, fromServer} from './helpers.mjs';
import {dump} from './dump.mjs';

const hashes = (entries) => entries.map((_entry, place) => String(place).repeat(64).slice(0, 64));
const given = (receipt, entries) => ({receipt, ids: entries.map(({id}) => id), hashes: hashes(entries)});

async function heard(store, receipt, entries, more = {}) {
  const clients = [CLIENT, OTHER];
  await store.applyReply({...change({entries, head: 9, after: 9, caseload: {version: 'v', clients}, ...more}),
    receipt: given(receipt, entries)});
}
const texts = async (store, entries) => (await store.receiptsFor(entries.map(({id}) => id))).map(({receipt}) => receipt);

test('a receipt is found again by what it covers, with all of it', async () => {
  const store = await freshStore();
  const [one, two] = [[fromServer(1), fromServer(2)], [fromServer(3)]];
  await heard(store, 'first', one);
  await heard(store, 'second', two, {asked: {epoch: EPOCH, after: 9}});
  assert.deepEqual(await store.receiptsFor([one[1].id]), [given('first', one)]);
  assert.deepEqual(await texts(store, [...two, ...one]), ['first', 'second']);
  assert.deepEqual(await store.receiptsFor([fromServer(9).id]), []);
});

test('nothing of it lies open but ids', async () => {
  const store = await freshStore();
  const page = [fromServer(1)];
  await heard(store, 'a receipt that is secret', page);
  const everything = JSON.stringify(await dump(`lintel-${store.userId}`));
  assert.ok(everything.includes(page[0].id));
  assert.ok(!everything.includes('a receipt that is secret') && !everything.includes(hashes(page)[0]));
});

test('it goes with the last of what it covers, not before', async () => {
  const store = await freshStore();
  const page = [fromServer(1, CLIENT), fromServer(2, OTHER)];
  await heard(store, 'first', page);
  await store.cards();
  const left = (version, clients) => store.applyReply(change({asked: {epoch: EPOCH, after: 9}, head: 9, after: 9,
    caseload: {version, clients}}));
  await left('v2', [CLIENT]);
  assert.deepEqual(await texts(store, page), ['first']);
  await left('v3', []);
  assert.deepEqual(await texts(store, page), []);
});

test('when a fill has brought it anew, the older receipt goes', async () => {
  const store = await freshStore();
  const page = [fromServer(1), fromServer(2, OTHER)];
  await heard(store, 'first', page);
  await heard(store, 'second', page.slice(0, 1), {asked: {epoch: EPOCH, after: 9}, refill: [CLIENT]});
  assert.deepEqual(await texts(store, page), ['first', 'second']);
  await heard(store, 'third', page, {asked: {epoch: EPOCH, after: 9, fill: [{client: CLIENT, after: 0}]},
    fill: [{client: CLIENT, after: 9, more: false}]});
  assert.deepEqual(await texts(store, page), ['third']);
});

test('it comes with its page or not at all', async () => {
  const store = await freshStore();
  const page = [fromServer(1)];
  const spoilt = {...change({entries: [{...page[0], id: undefined}], head: 9, after: 9}), receipt: given('first', page)};
  await assert.rejects(store.applyReply(spoilt));
  assert.deepEqual(await texts(store, page), []);
  assert.equal((await store.cursor()).after, 0);
});
