// When a run begins, how long it waits, and how it keeps apart from other windows.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {pulse} from '../store/helpers.mjs';
import {bench, breath, createLocks, fault} from './helpers.mjs';

const phase = (engine) => engine.status().phase;

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

test('a thousand switches of the network: everything arrives', async () => {
  const {engine, store, server, clock, page} = await bench();
  let seed = 7;
  const random = () => { seed = (seed * 48271) % 2147483647; return seed / 2147483647; };
  let [line, tries, cuts] = [true, 0, 0];
  const asked = async (_request, real) => {
    const [before, answer] = [line, line && random() < 0.7 ? await real() : null];
    tries += 1;
    if (before && line && answer) return answer;
    cuts += 1;
    throw new TypeError('off');
  };
  server.script = Array.from({length: 100_000}, () => asked);
  await engine.start();
  for (let i = 0; i < 1000; i += 1) {
    line = i % 2 === 1;
    if (i % 30 === 0) await store.save(pulse(String(i)));
    if (line) page.goOnline();
    for (let turns = 0; turns < random() * 40; turns += 1) await new Promise(setImmediate);
  }
  assert.ok(cuts > 20 && tries - cuts > 5, `${cuts} of ${tries} tries were cut`);
  line = true;
  server.script = [];
  await clock.advance(90_000);
  await breath(60);
  assert.deepEqual([(await store.counts()).waiting, server.log.length], [0, 34]);
});
