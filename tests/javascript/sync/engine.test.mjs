import assert from 'node:assert/strict';
import {test} from 'node:test';
import {uuid7} from '../../../static/sync/messages.js';
import {CLIENT, OTHER, fromServer, pulse} from '../store/helpers.mjs';
import {bench, breath, createLocks, fault, html, json} from './helpers.mjs';

const states = async (store) => Object.fromEntries((await store.outbox()).map(({id, state}) => [id, state]));
const phase = (engine) => engine.status().phase;

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
  assert.deepEqual(server.syncs()[1].pull, {after: 1, caseload: 'v1', fill: []});
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

test('an item the server could not read is answered by its position', async () => {
  const {engine, store, server} = await bench();
  const [odd, fine] = await store.saveMany([pulse('1'), pulse('2')]);
  server.verdict = ({id}) => (id === odd.id ? {id: null, verdict: 'held', code: 'malformed', message: 'Odd.'} : null);
  await engine.syncNow();
  assert.deepEqual(await states(store), {[odd.id]: 'held'});
  assert.ok(server.log.some(({id}) => id === fine.id));
});

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

test('Retry-After is kept to by all but a tap', async () => {
  const {engine, store, server, clock, page} = await bench();
  await engine.start();
  server.script = [fault(429, 'slow_down', {'retry-after': '100'})];
  await store.save(pulse());
  await engine.syncNow();
  const asked = server.requests.length;
  assert.equal(engine.status().retryAt - clock.now(), 100_000 + 0.5 * 11_000);
  page.goOnline();
  page.show('visible');
  await store.save(pulse('73'));
  await clock.advance(99_000);
  assert.equal(server.requests.length, asked);
  await clock.advance(7000);
  await breath();
  assert.equal(server.log.length, 2);
});

test('the wait doubles with every failure, stays under five minutes, and the network\'s return ends it', async () => {
  const {engine, store, server, clock, page} = await bench();
  await engine.start();
  await store.save(pulse());
  server.script = Array.from({length: 12}, () => () => { throw new TypeError('cut'); });
  await engine.syncNow();
  const waits = [];
  for (let i = 0; i < 11; i += 1) {
    waits.push(engine.status().retryAt - clock.now());
    await clock.advance(waits.at(-1));
    await breath(40);
  }
  assert.deepEqual(waits, [1000, 2000, 4000, 8000, 16_000, 32_000, 64_000, 128_000, 150_000, 150_000, 150_000]);
  server.script = [() => { throw new TypeError('cut'); }];
  page.goOnline();
  await breath(60);
  assert.equal(engine.status().retryAt - clock.now(), 1000, 'the count begins anew');
  page.goOnline();
  await breath(60);
  assert.deepEqual([phase(engine), engine.status().waiting], ['idle', 0]);
});

test('a save alone starts a sync, and a visit\'s entries saved together travel together', async () => {
  const {engine, store, server, clock} = await bench();
  await engine.start();
  await store.save(pulse('70'));
  await clock.advance(1000);
  await store.save(pulse('71'));
  await clock.advance(1500);
  await breath(60);
  assert.deepEqual(server.syncs().map(({push}) => push.length), [0, 2]);
});

test('what is saved while a run is under way goes right after it', async () => {
  const {engine, store, server, clock} = await bench();
  await engine.start();
  let release;
  server.script = [(_request, real) => new Promise((resolve) => { release = () => resolve(real()); })];
  const run = engine.syncNow();
  await breath();
  await store.save(pulse());
  await clock.advance(1500);
  release();
  await run;
  assert.equal(server.log.length, 0);
  await clock.advance(0);
  await breath(60);
  assert.equal(server.log.length, 1);
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

test('more than one batch: as few requests as the limit allows', async () => {
  const {engine, store, server} = await bench();
  server.page = 500;
  await store.saveMany(Array.from({length: 450}, (_, i) => pulse(String(i))));
  await engine.syncNow();
  assert.deepEqual(server.syncs().map(({push}) => push.length), [200, 200, 50]);
  assert.equal(server.syncs()[0].unsent, 450);
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
    {epoch: 'epoch-one', after: 251, caseload: server.caseload, fill: [], leaving: []});
});

test('a restored server gets back what it lost', async () => {
  const {engine, store, server} = await bench();
  const [kept, lost] = await store.saveMany([pulse('1'), pulse('2')]);
  await engine.syncNow();
  server.epoch = 'epoch-two';
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

test('an app too old is told so and keeps everything', async () => {
  const {engine, store, server} = await bench();
  await store.save(pulse());
  server.script = [null, fault(426, 'protocol')];
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().waiting], ['update', 1]);
});

test('two windows: the lock keeps them apart, and without it nothing doubles', async () => {
  const locks = createLocks();
  const one = await bench({engine: {locks}});
  const two = await bench({store: one.store, server: one.server, clock: one.clock, engine: {locks}});
  await one.store.saveMany([pulse('1'), pulse('2')]);
  let together = 0;
  let most = 0;
  one.server.script = Array.from({length: 9}, () => async (_request, answer) => {
    together += 1;
    most = Math.max(most, together);
    await breath(10);
    together -= 1;
    return answer();
  });
  await Promise.all([one.engine.syncNow(), two.engine.syncNow()]);
  assert.equal(most, 1);
  assert.equal(one.server.log.length, 2);
  assert.deepEqual(one.server.syncs().map(({push}) => push.length), [2, 0]);
  one.server.script = [];

  const free = await bench({store: one.store, server: one.server});
  const alsoFree = await bench({store: one.store, server: one.server});
  await one.store.saveMany([pulse('3'), pulse('4')]);
  await Promise.all([free.engine.syncNow(), alsoFree.engine.syncNow()]);
  assert.equal(one.server.log.length, 4);
  assert.deepEqual(await one.store.counts().then(({waiting}) => waiting), 0);
});

test('a window frozen with the lock in hand is waited for ten seconds', async () => {
  const locks = createLocks();
  const {engine, store, server, clock} = await bench({engine: {locks}});
  locks.freeze(`lintel-sync-${store.userId}`);
  await store.save(pulse());
  const done = engine.syncNow();
  await breath();
  await clock.advance(9999);
  assert.equal(server.log.length, 0);
  await clock.advance(1);
  await done;
  assert.equal(server.log.length, 1);
});

test('a run that hangs is given up after two minutes', async () => {
  const {engine, store, server, clock} = await bench({engine: {}});
  await engine.start();
  await store.save(pulse());
  server.script = [() => new Promise(() => {})];
  const hanging = engine.syncNow();
  await breath();
  await clock.advance(121_000);
  await breath(60);
  assert.equal(server.log.length, 1);
  assert.equal(phase(engine), 'idle');
  await Promise.race([hanging, breath(1)]);
});

test('the phone\'s own storage failing is said, and the next try repairs it', async () => {
  const one = await bench();
  const broken = {...one.store, applyReply: async () => { throw new Error('This phone has no room left.'); }};
  const {engine, server} = await bench({store: broken, server: one.server, clock: one.clock});
  await one.store.save(pulse());
  await engine.syncNow();
  assert.deepEqual([phase(engine), engine.status().message], ['error', 'This phone has no room left.']);
  assert.equal((await one.store.counts()).waiting, 1);
  await one.engine.syncNow();
  assert.deepEqual([server.log.length, (await one.store.counts()).waiting], [1, 0]);
});

test('a thousand switches of the network: everything arrives', async () => {
  const {engine, store, server, clock, page} = await bench();
  let seed = 7;
  const random = () => { seed = (seed * 48271) % 2147483647; return seed / 2147483647; };
  server.script = Array.from({length: 400}, () => (random() < 0.5 ? () => { throw new TypeError('off'); } : null));
  await engine.start();
  for (let i = 0; i < 30; i += 1) await store.save(pulse(String(i)));
  for (let i = 0; i < 1000 && server.script.length; i += 1) page.goOnline();
  server.script = [];
  await clock.advance(90_000);
  await breath(60);
  assert.deepEqual([(await store.counts()).waiting, server.log.length], [0, 30]);
});

test('the session is kept for use offline, without its token', async () => {
  const {engine, store} = await bench();
  await engine.syncNow();
  const session = await store.meta('session');
  assert.equal(session.organisation.settings.early_warning, true);
  assert.equal(session.csrf, undefined);
  assert.deepEqual(await store.meta('clock'), {behind: 0, give: 0});
});
