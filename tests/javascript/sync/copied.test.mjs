// Two copies of one device: each goes on under an id of its own, and nothing is lost or counted twice.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {openStore} from '../../../static/store/index.js';
import {pulse} from '../store/helpers.mjs';
import {bench} from './helpers.mjs';

test('told so in its answer, the app takes a new id and goes on under it', async () => {
  const {engine, store, server} = await bench();
  const former = store.device;
  const first = await store.save(pulse());
  server.state = 'copied';
  await engine.syncNow();
  assert.notEqual(store.device, former);
  server.state = 'active';
  const second = await store.save(pulse('80'));
  assert.deepEqual([second.device, second.device_seq], [store.device, 1]);
  await engine.syncNow();
  assert.deepEqual(server.log.map(({id, device, device_seq: number}) => [id, device, number]),
    [[first.id, former, 1], [second.id, store.device, 1]]);
  const {device, last_device_seq: last, unsent} = server.syncs().at(-1);
  assert.deepEqual([device, last, unsent], [store.device, 1, 1]);
  assert.deepEqual([engine.status().phase, engine.status().waiting, engine.status().revoked], ['idle', 0, false]);
});

test('another window that has not heard of it neither saves nor asks under the former id', async () => {
  const {engine, store, server} = await bench();
  const other = await openStore(store.userId);
  const former = store.device;
  await store.save(pulse());
  server.state = 'copied';
  await engine.syncNow();
  const saved = await other.save(pulse('81'));
  assert.deepEqual([saved.device, saved.device_seq], [store.device, 1]);
  assert.deepEqual(await other.numbering(), {device: store.device, lastDeviceSeq: 1});
  assert.deepEqual(await other.devices(), [store.device, former]);
  await other.close();
});

test('a save that was under way takes the new id', async () => {
  const {engine, store, server} = await bench();
  await store.save(pulse());
  await engine.syncNow();
  server.state = 'copied';
  const [, ...saved] = await Promise.all([engine.syncNow(), ...Array.from({length: 5}, (_, each) => store.save(pulse(`${70 + each}`)))]);
  await engine.syncNow();
  await engine.syncNow();
  const numbers = server.log.map(({device, device_seq: number}) => `${device} ${number}`);
  assert.equal(new Set(numbers).size, numbers.length, 'no number twice under one id');
  assert.deepEqual(new Set(server.log.map(({id}) => id).filter((id) => saved.some((entry) => entry.id === id))).size, 5);
  assert.equal((await store.counts()).waiting, 0);
});

test('a device that is allowed again and has a copy hands in what it held', async () => {
  const {engine, store, server} = await bench();
  const entry = await store.save(pulse());
  server.state = 'revoked';
  server.verdict = ({id}) => ({id, verdict: 'held', code: 'device_revoked', message: 'Withdrawn.'});
  await engine.syncNow();
  server.state = 'copied';
  server.verdict = () => null;
  await engine.syncNow();
  await engine.syncNow();
  assert.deepEqual(server.log.map(({id}) => id), [entry.id]);
  assert.equal(engine.status().revoked, false);
});
