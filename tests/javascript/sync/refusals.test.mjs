// What is no answer, what is a refusal, and how the next run gets over it: nothing saved is ever lost.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {uuid7} from '../../../static/sync/messages.js';
import {CLIENT, fromServer, pulse} from '../store/helpers.mjs';
import {bench, breath, fault, html, json} from './helpers.mjs';

const states = async (store) => Object.fromEntries((await store.outbox()).map(({id, state}) => [id, state]));
const phase = (engine) => engine.status().phase;

const notAnswers = {
  'the line is cut': () => { throw new TypeError('Failed to fetch'); },
  'a portal answers 200 with HTML': () => html(),
  'a portal answers JSON of its own': () => json({status: 'ok'}),
  'the reply is cut': () => new Response('{"protocol":1,"verd', {headers: {'content-type': 'application/json'}}),
  'the right words come as another type': async (_request, real) => new Response(await (await real()).text(),
    {headers: {'content-type': 'text/html'}}),
  'a proxy answers 502 with HTML': () => html(502),
  'a proxy answers 401 with HTML': () => html(401),
  'the reply holds too many verdicts': async (_request, real) => {
    const reply = await (await real()).json();
    return json({...reply, verdicts: [...reply.verdicts, ...reply.verdicts]});
  },
};
for (const [name, answer] of Object.entries(notAnswers)) {
  test(`no answer, so nothing changes, and it is sent later: ${name}`, async () => {
    const {engine, store, server, clock} = await bench();
    await engine.start();
    const entry = await store.save(pulse());
    server.script = [answer];
    await engine.syncNow();
    assert.deepEqual(await states(store), {[entry.id]: 'waiting'});
    assert.ok(['offline', 'error'].includes(phase(engine)), phase(engine));
    assert.equal((await store.cursor()).after, 0);
    await clock.advance(engine.status().retryAt - clock.now());
    await breath();
    assert.deepEqual(await states(store), {}, 'the timer alone is enough');
    assert.equal(phase(engine), 'idle');
    assert.equal(server.log.filter(({id}) => id === entry.id).length, 1);
  });
}

test('a reply lost after the server had stored: sent again, answered duplicate, once on the server', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  const entry = await store.save(pulse());
  server.script = [async (_request, real) => { await real(); throw new TypeError('lost'); }];
  await engine.syncNow();
  assert.deepEqual(await states(store), {[entry.id]: 'waiting'});
  await engine.syncNow();
  assert.deepEqual(await states(store), {});
  assert.equal(server.log.length, 1);
});

test('after a cut line fewer are sent at once, but not so few that it takes for ever; then more again', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  await store.saveMany(Array.from({length: 900}, () => pulse()));
  for (let tries = 0; tries < 4; tries += 1) {
    server.script = [() => { throw new TypeError('Failed to fetch'); }];
    await engine.syncNow();
  }
  await engine.syncNow();
  const sent = server.syncs().map(({push}) => push.length).filter((length) => length > 0);
  assert.deepEqual(sent, [500, 250, 125, 100, 100, 200, 400, 200]);
  assert.equal(engine.status().waiting, 0);
});

test('an expired sign-in keeps everything; after signing in everything goes', async () => {
  const {engine, store, server, page} = await bench();
  await engine.start();
  await store.saveMany(Array.from({length: 20}, (_, i) => pulse(String(60 + i))));
  server.script = [fault(401, 'sign_in_needed')];
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().waiting], ['sign_in', 20]);
  assert.equal(engine.status().retryAt, null, 'no hammering while a person has to act');
  page.show('visible');
  await breath(100);
  assert.deepEqual([phase(engine), engine.status().waiting, server.log.length], ['idle', 0, 20]);
});

test('a sign-in that ends between two pages is resumed at the cursor: no page is fetched twice', async () => {
  const {engine, store, server, page} = await bench();
  for (let i = 0; i < 250; i += 1) server.add(fromServer(i, CLIENT));
  server.script = [null, null, fault(401, 'sign_in_needed')];
  await engine.start();
  assert.deepEqual([phase(engine), (await store.cursor()).after], ['sign_in', 100]);
  assert.equal((await store.entriesOf(CLIENT)).length, 100);
  page.show('visible');
  await breath(100);
  assert.deepEqual(server.syncs().map(({pull}) => pull.after), [0, 100, 100, 200]);
  assert.deepEqual([phase(engine), (await store.entriesOf(CLIENT)).length], ['idle', 250]);
});

test('a person other than the owner of the store stops it: nothing is sent or fetched', async () => {
  const {engine, store, server} = await bench();
  await store.save(pulse());
  server.userId = uuid7();
  await engine.syncNow();
  assert.deepEqual([phase(engine), server.syncs().length, engine.status().waiting], ['sign_in', 0, 1]);
  assert.match(engine.status().message, /Someone else/);
  assert.equal(await store.meta('session'), null);
});

test('coming back into view asks first who is signed in', async () => {
  const {engine, store, server, page} = await bench();
  await engine.start();
  await store.save(pulse());
  page.show('hidden');
  server.userId = uuid7();
  page.show('visible');
  await breath(60);
  assert.deepEqual([phase(engine), server.syncs().length, engine.status().waiting], ['sign_in', 1, 1]);
});

test('an outworn token is fetched again, once', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  server.csrf = 'token-2';
  await store.save(pulse());
  await engine.syncNow();
  assert.deepEqual([phase(engine), server.log.length], ['idle', 1]);
  server.script = [fault(403, 'revoked'), null, fault(403, 'revoked')];
  const before = server.requests.length;
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().message], ['error', 'The server says revoked.']);
  assert.equal(server.requests.length - before, 3);
});

test('too large a push is halved; too large an entry alone is held with a reason', async () => {
  const {engine, store, server} = await bench();
  await engine.syncNow();
  const entries = await store.saveMany(Array.from({length: 8}, (_, i) => pulse(String(60 + i))));
  const tooLarge = entries[3].id;
  const refuse = ({body}) => (body?.push.length > 2 || body?.push.some(({id}) => id === tooLarge) ? html(413) : null);
  server.script = Array.from({length: 30}, () => refuse);
  await engine.syncNow();
  assert.deepEqual(await states(store), {[tooLarge]: 'held'});
  assert.equal(server.log.length, 7);
  assert.equal((await store.outbox())[0].code, 'too_large');
});

test('an entry that breaks the server is isolated and set aside; a broken server sets nothing aside', async () => {
  const {engine, store, server, clock} = await bench();
  await engine.syncNow();
  const entries = await store.saveMany(Array.from({length: 6}, (_, i) => pulse(String(60 + i))));
  const poison = entries[2].id;
  const breaking = ({body}) => (body?.push.some(({id}) => id === poison) ? fault(500) : null);
  server.script = Array.from({length: 60}, () => breaking);
  for (let i = 0; i < 20; i += 1) await engine.syncNow();
  assert.equal(server.log.length, 5);
  const [left] = await store.outbox();
  assert.deepEqual([left.id, left.state, left.code], [poison, 'waiting', 'not_taken']);
  assert.equal(left.until, clock.now() + 86_400_000);

  const lone = await store.save(pulse('99'));
  server.script = Array.from({length: 60}, () => () => fault(500));
  for (let i = 0; i < 20; i += 1) await engine.syncNow();
  assert.equal((await store.outbox()).find(({id}) => id === lone.id).until, null);
  server.script = [];
  await engine.syncNow();
  assert.ok(server.log.some(({id}) => id === lone.id));
});

test('a request without an answer is given up after its deadline and the batch is halved', async () => {
  const {engine, store, server, clock} = await bench();
  await engine.syncNow();
  await store.saveMany(Array.from({length: 8}, (_, i) => pulse(String(60 + i))));
  server.script = [({init}) => new Promise((_resolve, reject) => {
    init.signal.addEventListener('abort', () => reject(init.signal.reason));
  })];
  const done = engine.syncNow();
  await breath();
  await clock.advance(20_000);
  await done;
  assert.equal(phase(engine), 'offline');
  await engine.syncNow();
  assert.deepEqual(server.syncs().slice(-2).map(({push}) => push.length), [4, 4]);
});

test('an app too old is told so and keeps everything', async () => {
  const {engine, store, server} = await bench();
  await store.save(pulse());
  server.script = [null, fault(426, 'protocol')];
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().waiting], ['update', 1]);
});

test('the phone\'s own storage failing is said, and the next try repairs it', async () => {
  const one = await bench();
  const broken = {...one.store, applyReply: async () => { throw Object.assign(new Error('full'), {code: 'quota'}); }};
  const {engine, server} = await bench({store: broken, server: one.server, clock: one.clock});
  await one.store.save(pulse());
  await engine.syncNow();
  assert.equal(phase(engine), 'error');
  assert.match(engine.status().message, /no room left for what the server sends/);
  assert.equal((await one.store.counts()).waiting, 1);
  await one.engine.syncNow();
  assert.deepEqual([server.log.length, (await one.store.counts()).waiting], [1, 0]);
});
