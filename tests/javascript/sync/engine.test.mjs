// What one run sends and fetches, and what each answer does to the store.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {uuid7} from '../../../static/sync/messages.js';
import {CLIENT, OTHER, freshStore, fromServer, pulse} from '../store/helpers.mjs';
import {bench, fault} from './helpers.mjs';

const states = async (store) => Object.fromEntries((await store.outbox()).map(({id, state}) => [id, state]));

test('one request sends everything and fetches everything', async () => {
  const {engine, store, server} = await bench();
  server.add(fromServer(1, OTHER));
  const mine = await store.saveMany([pulse('70'), pulse('71')]);
  const status = await engine.syncNow();
  assert.equal(server.syncs().length, 1);
  assert.deepEqual(server.log.map(({id}) => id).slice(1), mine.map(({id}) => id));
  assert.deepEqual([status.phase, status.waiting, status.held, status.message], ['idle', 0, 0, null]);
  assert.equal(status.lastSyncedAt, '2026-11-25T09:00:00.000Z');
  assert.equal((await store.entriesOf(OTHER)).length, 1);
  assert.deepEqual((await store.cards()).map(({client}) => client).sort(), [CLIENT, OTHER]);
});

test('the request is as the protocol has it', async () => {
  const {engine, store, server} = await bench();
  const entry = await store.save(pulse());
  await engine.syncNow();
  const {seq: _seq, ...made} = entry;
  assert.deepEqual(server.syncs()[0], {protocol: 1, build: 'test', device: store.device, device_name: 'Test phone',
    epoch: null, unsent: 1, last_device_seq: 1, push: [made], pull: {after: 0, caseload: null, fill: []}});
  for (const {init} of server.requests) {
    assert.deepEqual([init.cache, init.credentials, init.redirect], ['no-store', 'same-origin', 'error']);
  }
  await engine.syncNow();
  assert.deepEqual(server.syncs()[1].pull, {after: 1, caseload: 'v1+', fill: []});
});

test('each verdict does its own and nothing else', async () => {
  const {engine, store, server, clock} = await bench();
  const words = ['applied', 'duplicate', 'clash', 'waiting', 'held', 'later', 'none', 'praised'];
  const entries = await store.saveMany(words.map((_, i) => pulse(String(60 + i))));
  const wordOf = new Map(entries.map((entry, i) => [entry.id, words[i]]));
  server.verdict = ({id}) => (wordOf.get(id) === 'none' ? 'none'
    : {id, verdict: wordOf.get(id), seq: 5, code: 'why', field: 'rate', message: 'Because.'});
  await engine.syncNow();
  const idOf = (word) => entries[words.indexOf(word)].id;
  assert.deepEqual(await states(store), {[idOf('clash')]: 'held', [idOf('waiting')]: 'waiting', [idOf('held')]: 'held',
    [idOf('later')]: 'waiting', [idOf('none')]: 'waiting', [idOf('praised')]: 'waiting'});
  const held = (await store.outbox()).find(({id}) => id === idOf('held'));
  assert.deepEqual([held.code, held.field, held.message], ['why', 'rate', 'Because.']);
  const due = async () => (await store.unsent({now: clock.now()})).map(({id}) => id);
  assert.ok(!(await due()).includes(idOf('later')));
  await clock.advance(86_400_000);
  assert.ok((await due()).includes(idOf('later')));
});

test('what lay too far ahead of the server goes by itself once its clock is right, within the same run', async () => {
  const {engine, store, server} = await bench();
  server.time = '2026-11-23T09:00:00.000Z';
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'future_date', field: 'recorded_at', message: 'Ahead.'});
  const early = await store.save(pulse());
  await engine.syncNow();
  await engine.syncNow();
  assert.deepEqual([engine.status().held, server.syncs().map(({push}) => push.length)], [1, [1, 0]]);

  server.time = '2026-11-24T09:00:00.000Z';
  server.verdict = () => null;
  await engine.syncNow();
  assert.deepEqual([engine.status().held, engine.status().waiting], [0, 0]);
  assert.deepEqual(server.log.map(({id}) => id), [early.id], 'as it was recorded');
});

test('a server that goes on refusing what its clock allows is asked once a run', async () => {
  const {engine, store, server} = await bench();
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'future_date', field: 'recorded_at', message: 'Ahead.'});
  const {id} = await store.save(pulse());
  for (const asked of [1, 3, 5]) {
    await engine.syncNow();
    assert.equal(server.syncs().length, asked);
    assert.deepEqual(await states(store), {[id]: 'held'});
  }
});

test('a fault at a later page hides nothing that came before it', async () => {
  const {engine, store, server} = await bench();
  [fromServer(1, CLIENT), fromServer(2, OTHER)].forEach(server.add);
  server.page = 1;
  const {applyReply} = store;
  let pages = 0;
  store.applyReply = (change) => {
    pages += 1;
    if (pages === 2) throw new DOMException('full', 'QuotaExceededError');
    return applyReply(change);
  };
  await engine.syncNow();
  assert.equal(pages, 2);
  assert.deepEqual((await store.cards()).map(({client}) => client), [CLIENT]);
});

test('an item the server could not read is answered by its position', async () => {
  const {engine, store, server} = await bench();
  const [odd, fine] = await store.saveMany([pulse('1'), pulse('2')]);
  server.verdict = ({id}) => (id === odd.id ? {id: null, verdict: 'held', code: 'malformed', message: 'Odd.'} : null);
  await engine.syncNow();
  assert.deepEqual(await states(store), {[odd.id]: 'held'});
  assert.ok(server.log.some(({id}) => id === fine.id));
});

test('more than one batch: as few requests as the limit allows', async () => {
  const {engine, store, server} = await bench();
  server.page = 500;
  await store.saveMany(Array.from({length: 1050}, (_, i) => pulse(String(i))));
  await engine.syncNow();
  assert.deepEqual(server.syncs().map(({push}) => push.length), [500, 500, 50]);
  assert.equal(server.syncs()[0].unsent, 1050);
});

test('bodies over a kilobyte travel packed; a server that cannot unpack gets them plain', async () => {
  const {engine, store, server} = await bench();
  await store.saveMany(Array.from({length: 20}, (_, i) => pulse(String(i))));
  server.script = [null, fault(400, 'bad_gzip')];
  await engine.syncNow();
  const encodings = server.requests.slice(1).map(({init}) => init.headers['Content-Encoding']);
  assert.deepEqual(encodings, ['gzip', undefined]);
  assert.equal(server.log.length, 20);
});

test('pages are fetched to the end, a newcomer is filled, one who left is removed', async () => {
  const {engine, store, server} = await bench();
  for (let i = 0; i < 250; i += 1) server.add(fromServer(i, CLIENT));
  await engine.syncNow();
  assert.equal((await store.entriesOf(CLIENT)).length, 250);
  server.log.push({...fromServer(1, OTHER), seq: 251});
  await engine.syncNow();
  assert.equal((await store.entriesOf(OTHER)).length, 0, 'not in the caseload');
  server.caseload = {version: 'v2', clients: [OTHER]};
  await engine.syncNow();
  assert.equal((await store.entriesOf(OTHER)).length, 1);
  assert.equal((await store.entriesOf(CLIENT)).length, 0);
  assert.deepEqual(await store.cursor(),
    {epoch: '5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c44', after: 251, caseload: server.caseload, fill: [], leaving: [], sweep: false});
});

test('a long fill makes each card once, at its end, and the screens are told once', async () => {
  const made = [];
  const store = await freshStore({project: (entries, client) => made.push(client) && {client, count: entries.length}});
  const {engine, server} = await bench({store});
  for (let i = 0; i < 950; i += 1) server.add(fromServer(i, `${CLIENT.slice(0, -2)}${10 + i % 20}`));
  const told = [];
  store.subscribe(({type}) => told.push(type));
  await engine.syncNow();
  assert.equal(told.filter((type) => type === 'synced').length, 10, 'ten pages');
  assert.deepEqual([made.length, new Set(made).size, told.filter((type) => type === 'cards').length], [20, 20, 1]);
  assert.deepEqual((await store.cards()).map(({count}) => count).toSorted(), [...Array(10).fill(47), ...Array(10).fill(48)]);
});

test('a record of many pages says how far it has come, and a short one nothing', async () => {
  const {engine, server} = await bench();
  for (let i = 0; i < 250; i += 1) server.add(fromServer(i, `${CLIENT.slice(0, -2)}${10 + i % 20}`));
  const shares = [];
  engine.subscribe(({progress}) => shares.push(progress?.share ?? null));
  await engine.syncNow();
  assert.deepEqual([...new Set(shares)], [null, 0.4, 0.8]);
  assert.equal(engine.status().progress, null);
  shares.length = 0;
  await engine.syncNow();
  assert.deepEqual([...new Set(shares)], [null]);
});

test('a restored server gets back what it lost', async () => {
  const {engine, store, server} = await bench();
  const [kept, lost] = await store.saveMany([pulse('1'), pulse('2')]);
  await engine.syncNow();
  server.epoch = '5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c45';
  server.log.pop();
  await engine.syncNow();
  assert.deepEqual(server.log.map(({id}) => id), [kept.id, lost.id]);
  assert.deepEqual(await states(store), {});
});

test('a phone that lost part of its store notices at the server\'s list and starts over', async () => {
  const one = await bench();
  await one.store.save(pulse('1'));
  await one.engine.syncNow();
  const id = uuid7();
  one.server.add({...fromServer(9, CLIENT), id, device: one.store.device});
  await one.engine.syncNow();
  assert.equal((await one.store.entry(id))?.id, id);
  assert.equal((await one.store.entriesOf(CLIENT)).length, 2);
});

test('another entry under the id of an unsent one never replaces it', async () => {
  const {engine, store, server} = await bench();
  const mine = await store.save(pulse('72'));
  server.add({...fromServer(1, CLIENT), id: mine.id});
  await engine.syncNow();
  assert.deepEqual((await store.entry(mine.id)).body, mine.body);
  assert.deepEqual(await states(store), {[mine.id]: 'held'});
});

test('a faulty item in a page does not stop the page', async () => {
  const {engine, store, server} = await bench();
  server.add(fromServer(1));
  server.log.push({id: uuid7(), seq: 2, nonsense: true});
  server.add(fromServer(3));
  await engine.syncNow();
  assert.equal((await store.entriesOf(CLIENT)).length, 2);
});

test('the session is kept for use offline, without its token', async () => {
  const {engine, store} = await bench();
  await engine.syncNow();
  const session = await store.meta('session');
  assert.equal(session.organisation.settings.early_warning, true);
  assert.equal(session.csrf, undefined);
  assert.deepEqual(await store.meta('clock'), {behind: 0, give: 0});
});
