// What earlier versions stored and were answered (tests/vectors/sync/versions): today's app reads it all.
import assert from 'node:assert/strict';
import {readFileSync, readdirSync} from 'node:fs';
import {test} from 'node:test';
import {keysOf} from '../../../static/store/index.js';
import {isReply, isSession} from '../../../static/sync/messages.js';
import {load} from '../store/dump.mjs';
import {freshStore} from '../store/helpers.mjs';
import {bench, createServer, json} from './helpers.mjs';

const FOLDER = new URL('../../vectors/sync/versions/', import.meta.url);
const read = (version, name) => JSON.parse(readFileSync(new URL(`${version}/${name}.json`, FOLDER), 'utf8'));
const versions = readdirSync(FOLDER);
const ofVersion = (version) => ({dumped: read(version, 'store'), ...read(version, 'exchanges')});

test('there are earlier versions', () => assert.deepEqual(versions.filter((name) => name === '1'), ['1']));

for (const version of versions) {
  test(`version ${version}: every answer it was given is still an answer`, () => {
    const {exchanges} = ofVersion(version);
    for (const {path, request, status, reply} of exchanges) {
      assert.equal(status, 200);
      assert.ok(path.endsWith('session') ? isSession(reply) : isReply(reply, request.push.length), path);
    }
  });

  test(`version ${version}: its store opens with everything in it, and goes on`, async () => {
    const {dumped, ids, exchanges} = ofVersion(version);
    const rows = dumped.stores.entries.rows;
    await load(`lintel-${ids.person}`, dumped);
    await keysOf(ids.person, {rounds: 1000}).create('lamp copper meadow quiet');  // what lay open is sealed
    const store = await freshStore({userId: ids.person});
    for (const {id, seq, sealed: {$json: entry}} of rows) assert.deepEqual(await store.entry(id), {...entry, seq});
    const states = (await store.outbox()).map(({state, code}) => [state, code ?? null]);
    assert.deepEqual(states.sort(), [['held', 'required'], ['waiting', null], ['waiting', null], ['waiting', 'unknown_kind']]);
    assert.deepEqual(await store.draft('pulse'), {rate: '7'});
    assert.equal((await store.cards()).length, 2);

    // The server it spoke with, with all it had of this person, goes on from the cursor.
    const server = createServer({userId: ids.person});
    server.epoch = exchanges.at(-1).reply.epoch;
    server.caseload = {version: 'v', clients: [ids.one, ids.two]};
    for (const row of rows.filter(({seq}) => seq !== null).sort((a, b) => a.seq - b.seq)) server.log.push({...row.sealed.$json, seq: row.seq});
    const {engine} = await bench({store, server});
    await engine.syncNow();
    assert.equal(engine.status().phase, 'idle');
    assert.deepEqual(server.syncs()[0].pull.after, exchanges.at(-1).reply.pull.after);
    assert.equal(server.log.length, rows.length - 2, 'all but what needs attention and what waits for a newer server');
    for (const {id, sealed: {$json: entry}} of rows) assert.deepEqual({...await store.entry(id), seq: null}, {...entry, seq: null});
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
