// Whose answer it is, and what the service has switched on: both come with every answer.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {uuid7} from '../../../static/sync/messages.js';
import {OTHER, fromServer, pulse} from '../store/helpers.mjs';
import {bench} from './helpers.mjs';

const phase = (engine) => engine.status().phase;

test('an answer meant for another person changes nothing; back with its owner, everything goes', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  const entry = await store.save(pulse());
  server.add(fromServer(1, OTHER));
  const before = await store.cursor();
  const owner = server.userId;
  server.userId = uuid7();  // another window signed somebody else in; our token still passes
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'wrong_author', message: 'Not theirs.'});
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().waiting, engine.status().held], ['sign_in', 1, 0]);
  assert.match(engine.status().message, /Someone else/);
  assert.deepEqual([await store.cursor(), await store.entriesOf(OTHER)], [before, []]);
  assert.equal((await store.outbox())[0].code ?? null, null);

  const asked = server.syncs().length;
  await engine.syncNow();
  assert.equal(server.syncs().length, asked, 'it asks who is signed in before it sends again');

  server.userId = owner;
  server.verdict = () => null;
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().waiting], ['idle', 0]);
  assert.ok(server.log.some(({id}) => id === entry.id));
  assert.equal((await store.entriesOf(OTHER)).length, 1);
});

test('what the service switches reaches the phone with the next sync', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  server.settings = {early_warning: false};
  const asked = server.requests.length;
  await engine.syncNow();
  assert.equal(server.requests.length - asked, 1, 'no request more for it');
  const session = await store.meta('session');
  assert.deepEqual(session.organisation, {id: 'org', name: 'Invented Team', settings: {early_warning: false}});
  assert.equal(session.user.id, store.userId);
});

test('a withdrawn phone gives up what it received, keeps what it could not hand in, and says so', async () => {
  const {engine, store, server} = await bench();
  server.add(fromServer(1, OTHER));
  await engine.syncNow();
  assert.equal(engine.status().revoked, false);
  const unsent = await store.save(pulse());
  server.state = 'revoked';
  server.caseload = {version: 'v2', clients: []};
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'device_revoked', message: 'Withdrawn.'});
  await engine.syncNow();
  assert.deepEqual([engine.status().revoked, engine.status().held, engine.status().waiting], [true, 1, 0]);
  assert.deepEqual(await store.entriesOf(OTHER), []);
  assert.deepEqual((await store.entriesOf(unsent.client)).map(({id}) => id), [unsent.id]);

  server.script.push(() => { throw new TypeError('no line'); });
  await engine.syncNow();
  assert.equal(engine.status().revoked, true, 'it is still said without a line');

  server.state = undefined;  // as an older server answers
  server.verdict = () => null;
  await engine.syncNow();
  assert.deepEqual([engine.status().revoked, engine.status().held, engine.status().waiting], [false, 0, 0]);
  assert.ok(server.log.some(({id}) => id === unsent.id), 'what was held for that alone is handed in');
});
