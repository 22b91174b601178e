// After a restore: what others recorded and the new log lacks is handed back, proved, and never in the way.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {uuid7} from '../../../static/sync/messages.js';
import {CLIENT, fromServer, pulse} from '../store/helpers.mjs';
import {bench, fault} from './helpers.mjs';

const ids = (entries) => entries.map(({id}) => id).sort();

/** A phone that fetched some entries of others, and a log that lost all but the first few of them. */
async function restored(count, kept = 0, options = {}) {
  const made = await bench(options);
  const others = Array.from({length: count}, (_, n) => fromServer(n + 1, CLIENT, {body: {text: `note ${n}`}}));
  for (const entry of others) made.server.add(entry);
  await made.engine.syncNow();
  made.server.log.splice(kept);
  made.server.epoch = uuid7().replace(/^./, '5');
  made.server.requests.length = 0;
  return {...made, others};
}
const handed = (server) => server.syncs().filter(({returned}) => returned)
  .map(({returned}) => returned.map(({entries}) => entries.length));

test('it is in the log again, unchanged, and nothing else is sent with it', async () => {
  const {engine, store, server, others} = await restored(5, 2);
  assert.equal((await engine.syncNow()).phase, 'idle');
  assert.deepEqual(ids(server.log), ids(others));
  const bare = ({seq: _seq, received_at: _at, ...entry}) => entry;
  const sorted = (entries) => entries.map(bare).sort((a, b) => (a.id < b.id ? -1 : 1));
  assert.deepEqual(sorted(server.log.slice(2)), sorted(others.slice(2)));
  assert.deepEqual(await store.returning(), []);
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({seq}) => seq), [1, 2, 3, 4, 5]);
  assert.deepEqual(handed(server), [[3]]);
  assert.ok(server.syncs().filter(({returned}) => returned).every(({push}) => push.length === 0));
});

test('after every page of the new log was read, and in parts', async () => {
  const {engine, server, others} = await restored(1200, 0);
  for (let n = 0; n < 30; n += 1) server.log.push({...fromServer(n + 1), seq: n + 1});
  server.page = 10;
  await engine.syncNow();
  assert.deepEqual(handed(server).map((groups) => groups.reduce((a, b) => a + b)), [500, 500, 200]);
  assert.equal(server.log.length, others.length + 30);
  const first = server.syncs().findIndex(({returned}) => returned);
  assert.equal(server.syncs()[first].pull.after, 30);
});

test('what was recorded here and corrects it goes right after it', async () => {
  const {engine, store, server, others} = await restored(1);
  const mine = await store.save({...pulse(), kind: 'note', body: {text: 'better'}, amends: others[0].id, reason: 'misheard'});
  server.verdict = ({id, amends}) => (amends && !server.log.some((entry) => entry.id === amends)
    ? {id, verdict: 'waiting', code: 'target_missing', message: 'Later.'} : null);
  await engine.syncNow();
  assert.deepEqual(server.log.map(({id}) => id), [others[0].id, mine.id]);
  assert.equal((await store.counts()).waiting, 0);
});

test('an older server passes it over: it is kept, and asked once a run', async () => {
  const {engine, store, server, others} = await restored(3);
  server.unaware = true;
  const mine = await store.save(pulse());
  for (let runs = 0; runs < 2; runs += 1) assert.equal((await engine.syncNow()).phase, 'idle');
  assert.deepEqual(server.log.map(({id}) => id), [mine.id]);
  assert.deepEqual(handed(server), [[3], [3]]);
  assert.deepEqual((await store.returning()).map(({id, state}) => [id, state]), ids(others).map((id) => [id, 'returning']));
  server.unaware = false;
  await engine.syncNow();
  assert.equal(server.log.length, 4);
});

test('one that the server stumbles over keeps neither the others nor what was recorded here', async () => {
  const {engine, store, server, others} = await restored(8);
  const bad = others[5].id;
  const mine = await store.save(pulse());
  const stumble = (request, real) => (JSON.stringify(request.body?.returned ?? '').includes(bad) ? fault(500, 'server_error') : real());
  server.script = Array.from({length: 60}, () => stumble);
  assert.equal((await engine.syncNow()).phase, 'idle');
  assert.deepEqual(ids(server.log), ids([mine, ...others.filter(({id}) => id !== bad)]));
  assert.deepEqual(ids(await store.returning()), [bad]);
  server.script = [];
  await engine.syncNow();
  assert.equal(server.log.length, 9);
});

test('put aside, it stays readable, is told, and is not sent again', async () => {
  const {engine, store, server, others} = await restored(2);
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'put_aside', message: 'Kept aside.'});
  await engine.syncNow();
  await engine.syncNow();
  assert.deepEqual(handed(server), [[2]]);
  const told = await store.returning();
  assert.deepEqual(told.map(({state, message}) => [state, message]), [['aside', 'Kept aside.'], ['aside', 'Kept aside.']]);
  assert.deepEqual(ids(await store.entriesOf(CLIENT)), ids(others));
});

test('without a receipt it is handed back all the same', async () => {
  const {engine, store, server} = await bench();
  server.unaware = true;  // an older server, which gave none
  server.add(fromServer(1));
  await engine.syncNow();
  Object.assign(server, {unaware: false, epoch: '5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c45'});
  server.log.length = 0;
  await engine.syncNow();
  const [{returned}] = server.syncs().filter((body) => body.returned);
  assert.deepEqual(returned.map(({receipt, covers, entries}) => [receipt, covers, entries.length]), [[null, [], 1]]);
  assert.deepEqual((await store.returning()).map(({state, code}) => [state, code]), [['aside', 'unproved']]);
});
