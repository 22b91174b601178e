// A person's store behind their passphrase: made, opened, slowed down, locked, and sealed afterwards.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {openDB} from '../../../static/node_modules/idb/build/index.js';
import {keysOf, lockStores, openStore, uuid7} from '../../../static/store/index.js';
import {upgrade} from '../../../static/store/schema.js';
import {CLIENT, change, fromServer, project, pulse} from './helpers.mjs';

const PHRASE = 'lamp copper meadow quiet';
const OTHER = 'river pencil thunder nine';

/** A person, their keys and their clock; the store opens with `open`. */
async function person() {
  const userId = uuid7();
  const clock = {time: 1_000_000};
  const keys = keysOf(userId, {rounds: 1000, now: () => clock.time});
  await keys.create(PHRASE);
  return {userId, keys, clock, open: () => openStore(userId, {project})};
}

async function rowsOf(userId, room) {
  const db = await openDB(`lintel-${userId}`);
  const rows = await db.getAll(room);
  db.close();
  return rows;
}

test('what was saved opens after a lock with the passphrase, and with no other', async () => {
  const {keys, open} = await person();
  const store = await open();
  await store.save(pulse('70'));
  await store.saveDraft('visit:pulse', {rate: '7'});
  await store.close();
  lockStores();
  await assert.rejects(open(), {code: 'locked'});
  await assert.rejects(keys.unlock(OTHER), {code: 'wrong'});
  await assert.rejects(open(), {code: 'locked'});
  await keys.unlock(PHRASE);
  const again = await open();
  assert.equal((await again.entriesOf(CLIENT))[0].body.fields.rate, '70');
  assert.deepEqual(await again.draft('visit:pulse'), {rate: '7'});
  await again.close();
});

test('a store that is locked under an open screen saves nothing and says so', async () => {
  const {keys, open} = await person();
  const store = await open();
  lockStores();
  await assert.rejects(store.save(pulse('70')), {code: 'locked'});
  await assert.rejects(store.saveDraft('k', 1), {code: 'locked'});
  await keys.unlock(PHRASE);
  assert.equal((await store.counts()).waiting, 0);
  await store.close();
});

test('an unfit passphrase makes no key; a second making changes nothing', async () => {
  const userId = uuid7();
  const keys = keysOf(userId, {rounds: 1000});
  assert.deepEqual(await keys.state(), {made: false, passkey: false});
  await assert.rejects(keys.create('1234'), {code: 'unfit', message: /number is too easy/});
  assert.equal((await keys.state()).made, false);
  await keys.create(PHRASE);
  await assert.rejects(keys.create(OTHER), {code: 'wrong'});
  await keys.unlock(PHRASE);
});

test('wrong passphrases wait longer and longer, across windows, and the right one ends it', async () => {
  const {userId, keys, clock} = await person();
  const other = keysOf(userId, {rounds: 1000, now: () => clock.time});
  const waits = [];
  for (let tries = 0; tries < 12; tries += 1) {
    const failure = await (tries % 2 ? keys : other).unlock(OTHER).catch((error) => error);
    assert.equal(failure.code, 'wrong');
    waits.push(Math.max(0, failure.waitUntil - clock.time) / 1000);
    if (failure.waitUntil > clock.time) {
      await assert.rejects(keys.unlock(PHRASE), {code: 'early'}, 'not even the right one before its time');
      clock.time = failure.waitUntil;
    }
  }
  assert.deepEqual(waits, [0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60, 60]);
  await keys.unlock(PHRASE);
  assert.equal((await keys.unlock(OTHER).catch((error) => error)).waitUntil, 0);
});

test('a new passphrase rewraps only: no row is written anew', async () => {
  const {userId, keys, open} = await person();
  const store = await open();
  await store.save(pulse('70'));
  await store.close();
  const before = await rowsOf(userId, 'entries');
  await keys.changePassphrase(PHRASE, OTHER);
  assert.deepEqual(await rowsOf(userId, 'entries'), before);
  await assert.rejects(keys.changePassphrase(PHRASE, 'four other good words'), {code: 'wrong'});
  await assert.rejects(keys.changePassphrase(OTHER, '1234'), {code: 'unfit'});
  lockStores();
  await keys.unlock(OTHER);
});

test('what an earlier version kept open is sealed once, and everything is still there', async () => {
  const {userId, keys, open} = await person();
  const store = await open();
  const entry = await store.save(pulse('70'));
  await store.applyReply(change({verdicts: [{id: entry.id, verdict: 'held', message: 'Invented reason.'}],
    entries: [fromServer(1)], head: 1, after: 1}));
  await store.saveDraft('visit:pulse', {rate: '7'});
  await store.setMeta('session', {user: {id: userId, name: 'Invented Person'}});
  await store.cards();
  const kept = [await store.entriesOf(CLIENT), await store.outbox(), await store.draft('visit:pulse'), await store.meta('session'), await store.cards()];
  await openAll(userId, store);
  await store.close();
  assert.ok(holdsText(await everything(userId), 'Invented Person'));

  lockStores();
  await keys.unlock(PHRASE);
  const after = await openStore(userId, {project});
  assert.deepEqual([await after.entriesOf(CLIENT), await after.outbox(), await after.draft('visit:pulse'), await after.meta('session'), await after.cards()], kept);
  await after.close();
  for (const word of ['Invented Person', 'Invented reason', 'Rang the bell', '"rate"']) assert.ok(!holdsText(await everything(userId), word), word);
});

/** Puts every sealed value back as the first version of the app kept it: plain JSON. */
async function openAll(userId) {
  const {open} = await import('../../../static/store/seal.js');
  const db = await openDB(`lintel-${userId}`, undefined, {upgrade});
  for (const [room, key] of Object.entries({entries: 'id', outbox: 'id', drafts: 'key', cards: 'client', meta: 'key'})) {
    for (const row of await db.getAll(room)) {
      if (!row.sealed) continue;
      const value = await open(row.sealed, {store: room, id: row[key].replace(/^fact:/, '')});
      await db.put(room, {...row, sealed: new TextEncoder().encode(JSON.stringify(value))});
    }
  }
  await db.delete('meta', 'sealed_with');
  db.close();
}

const everything = async (userId) => (await Promise.all(['entries', 'outbox', 'drafts', 'cards', 'meta'].map((room) => rowsOf(userId, room)))).flat();
const holdsText = (rows, text) => rows.some((row) => row.sealed && Buffer.from(row.sealed).includes(text));

test('a damaged row hides nothing else, and is fetched again', async () => {
  const {userId, open} = await person();
  const store = await open();
  await store.applyReply(change({entries: [fromServer(1), fromServer(2)], head: 2, after: 2, caseload: {version: 'v', clients: [CLIENT]}}));
  const own = await store.save(pulse('70'));
  const [first] = await store.entriesOf(CLIENT);
  await meddle(userId, first.id, (row) => { row.sealed[40] ^= 1; });
  assert.deepEqual((await store.entriesOf(CLIENT)).length, 2);
  assert.equal(await store.entry(first.id), null);
  assert.deepEqual((await store.cursor()).fill, [{client: CLIENT, after: 0}]);
  await store.applyReply(change({entries: [fromServer(1, CLIENT, {id: first.id})], head: 2, after: 2,
    asked: {epoch: 'epoch-one', after: 2, fill: [{client: CLIENT, after: 0}]}, fill: [{client: CLIENT, after: 2, more: false}]}));
  assert.equal((await store.entriesOf(CLIENT)).length, 3);
  assert.deepEqual((await store.cursor()).fill, []);

  await meddle(userId, own.id, (row) => { row.sealed[40] ^= 1; });
  assert.deepEqual([await store.unsent(), (await store.outbox())[0].entry], [[], null]);
  assert.equal((await store.entriesOf(CLIENT)).length, 2);
  assert.deepEqual((await store.cursor()).fill, [], 'what never left this phone cannot be fetched');
  assert.equal((await store.counts()).waiting, 1, 'it is still counted');
  await store.close();
});

test('rows that changed places do not open', async () => {
  const {userId, open} = await person();
  const store = await open();
  const OTHERS = uuid7();
  await store.applyReply(change({entries: [fromServer(1), fromServer(2, OTHERS)], head: 2, after: 2}));
  const [mine] = await store.entriesOf(CLIENT);
  const [theirs] = await store.entriesOf(OTHERS);
  await meddle(userId, mine.id, (row, rows) => { row.sealed = rows.find(({id}) => id === theirs.id).sealed; });
  assert.deepEqual(await store.entriesOf(CLIENT), []);
  await meddle(userId, theirs.id, (row) => { row.client = CLIENT; });
  assert.deepEqual(await store.entriesOf(CLIENT), [], 'not even under another client');
  await store.close();
});

test('a damaged card is made anew', async () => {
  const {userId, open} = await person();
  const store = await open();
  await store.save(pulse('70'));
  const cards = await store.cards();
  const db = await openDB(`lintel-${userId}`);
  const [row] = await db.getAll('cards');
  row.sealed[20] ^= 1;
  await db.put('cards', row);
  db.close();
  assert.deepEqual(await store.card(CLIENT), cards[0]);
  assert.deepEqual(await store.cards(), cards);
  await store.close();
});

async function meddle(userId, id, work) {
  const db = await openDB(`lintel-${userId}`);
  const rows = await db.getAll('entries');
  const row = rows.find((each) => each.id === id);
  work(row, rows);
  await db.put('entries', row);
  db.close();
}
