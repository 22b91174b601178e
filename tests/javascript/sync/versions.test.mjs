// What earlier versions stored and were answered (tests/vectors/sync/versions): today's app reads it all.
import assert from 'node:assert/strict';
import {readFileSync, readdirSync} from 'node:fs';
import {test} from 'node:test';
import {NotOpened, keysOf} from '../../../static/store/index.js';
import {isReply, isSession} from '../../../static/sync/messages.js';
import {load} from '../store/dump.mjs';
import {freshStore} from '../store/helpers.mjs';
import {bench, createClock, createServer, json} from './helpers.mjs';

const FOLDER = new URL('../../vectors/sync/versions/', import.meta.url);
const read = (version, name) => JSON.parse(readFileSync(new URL(`${version}/${name}.json`, FOLDER), 'utf8'));
const versions = readdirSync(FOLDER);

function ofVersion(version) {
  const {ids, exchanges} = read(version, 'exchanges');
  return {dumped: read(version, 'store'), inside: read(version, 'inside'), ids, heard: exchanges.filter(({act}) => !act)};
}

/** The store an earlier version left, under today's code; what lay open in it is sealed. */
async function opened({dumped, inside, ids}) {
  await load(`lintel-${ids.person}`, dumped);
  const keys = keysOf(ids.person, {rounds: 1000});
  if (inside.passphrase) await keys.unlock(inside.passphrase);
  else await keys.create('lamp copper meadow quiet');
  return freshStore({userId: ids.person});
}

test('there are earlier versions', () => {
  assert.deepEqual(versions.filter((name) => ['1', '2'].includes(name)), ['1', '2']);
  assert.ok(versions.every((version) => version === '1' || read(version, 'inside').passphrase), 'sealed since the second');
});

for (const version of versions) {
  test(`version ${version}: every answer it was given is still an answer`, () => {
    const {heard} = ofVersion(version);
    for (const {path, request, status, reply} of heard) {
      assert.equal(status, 200);
      assert.ok(path.endsWith('session') ? isSession(reply) : isReply(reply, request.push.length), path);
    }
  });

  test(`version ${version}: its store opens with everything in it, and goes on`, async () => {
    const kept = ofVersion(version);
    const {inside, ids, heard} = kept;
    const store = await opened(kept);
    for (const entry of inside.entries) assert.deepEqual(await store.entry(entry.id), entry);
    const states = (await store.outbox()).map(({id, state, code}) => ({id, state, code: code ?? null}));
    assert.deepEqual(states, inside.outbox);
    assert.deepEqual(await store.draft('pulse'), inside.drafts.pulse);
    assert.equal((await store.cards()).length, inside.cards);

    // The server it spoke with, with all it had of this person, goes on from the cursor.
    const last = heard.at(-1).reply;
    const server = createServer({userId: ids.person});
    server.epoch = last.epoch;
    server.caseload = {version: 'v', clients: [ids.one, ids.two]};
    const numbered = new Map(inside.entries.filter(({seq}) => seq !== null).map((entry) => [entry.seq, entry]));
    for (let seq = 1; seq <= last.head; seq += 1) server.log.push(numbered.get(seq) ?? {id: `of another ${seq}`, client: ids.bens, seq});
    const {engine} = await bench({store, server, clock: createClock(Date.parse(last.server_time))});
    await engine.syncNow();
    assert.equal(engine.status().phase, 'idle');
    assert.deepEqual(server.syncs()[0].pull.after, last.pull.after);
    const stays = new Set(inside.outbox.filter(({code}) => code).map(({id}) => id));
    const arrived = server.log.slice(last.head).map(({id}) => id);
    assert.deepEqual(arrived, inside.outbox.map(({id}) => id).filter((id) => !stays.has(id)), 'what needs attention or a newer server waits');
    for (const entry of inside.entries) assert.deepEqual({...await store.entry(entry.id), seq: null}, {...entry, seq: null});
  });
}

for (const version of versions.filter((name) => read(name, 'inside').passphrase)) {
  test(`version ${version}: without its passphrase nothing in its store is readable`, async () => {
    const {dumped, ids} = ofVersion(version);
    await load(`lintel-${ids.person}-locked`, dumped);
    await assert.rejects(keysOf(`${ids.person}-locked`, {rounds: 1000}).unlock('another four known words'), NotOpened);
    for (const text of ['Zoë', 'Invented Client', 'Not sent yet', '"body"']) assert.ok(!JSON.stringify(dumped).includes(text), text);
  });
}

test('a server that left this protocol has the app ask for its update, and recording goes on', async () => {
  const {engine, store, server} = await bench();
  server.script.push(null, json({protocol: 2, something: 'else'}));
  const saved = await store.save({kind: 'note', client: 'c', body: {text: 'Kept.'}});
  const {phase, message, waiting} = await engine.syncNow();
  assert.deepEqual([phase, waiting], ['update', 1]);
  assert.match(message, /needs its new version/);
  await store.save({kind: 'note', client: 'c', body: {text: 'And this.'}});
  assert.deepEqual(await store.unsentIds().then((ids) => [ids.length, ids.includes(saved.id)]), [2, true]);
});
