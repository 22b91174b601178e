// The device's rules as cases (tests/vectors/sync/device.json), on the real store over an in-memory database.
import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {test} from 'node:test';
import {nextBatch} from '../../../static/sync/batch.js';
import {toHandBack} from '../../../static/sync/give_back.js';
import {MAX_ITEMS, MAX_PUSH_BYTES, entryHash, handedBack, isReply} from '../../../static/sync/messages.js';
import {changeFrom, requestFor} from '../../../static/sync/plan.js';
import {freshStore} from '../store/helpers.mjs';

const {clients, cases} = JSON.parse(readFileSync(new URL('../../vectors/sync/device.json', import.meta.url), 'utf8'));
const NOW = Date.parse('2026-11-25T09:40:12.123Z');
const NAMES = {build: 'b', deviceName: 'n'};

async function request(store) {
  const [push, {waiting, held}, numbering] = await Promise.all([
    store.unsent({now: NOW}), store.counts(), store.numbering()]);
  const batch = nextBatch(push, {items: MAX_ITEMS, bytes: MAX_PUSH_BYTES});
  const returned = await toHandBack(store);
  return requestFor(await store.cursor(), {...NAMES, ...numbering, unsent: waiting + held, push: batch, returned});
}

// A value with the words that stand for something put into plain text.
async function meant(value, store) {
  if (Array.isArray(value)) return Promise.all(value.map((inner) => meant(inner, store)));
  if (value !== null && typeof value === 'object') {
    if (value.$own) return {...await store.entry(value.$own), seq: value.seq, received_at: '2026-11-25T09:41:00.000Z'};
    const pairs = Object.entries(value).map(async ([key, inner]) => [key, await meant(inner, store)]);
    return Object.fromEntries(await Promise.all(pairs));
  }
  if (typeof value !== 'string') return value;
  if (value.startsWith('$hash ')) return entryHash(await store.entry(value.slice(6)));
  return {$me: store.userId, $device: store.device}[value] ?? value;
}

async function hear(store, asked, answer, now) {
  if (!isReply(answer, asked.push.length, handedBack(asked).length) || answer.person !== store.userId) return;
  await store.applyReply(await changeFrom(asked, answer, store, now));
}

async function holds(store) {
  const [outbox, cursor] = [await store.outbox(), await store.cursor()];
  const entries = (await Promise.all(clients.map((client) => store.entriesOf(client)))).flat();
  const returning = await store.returning();
  const unsent = new Set([...outbox, ...returning].map(({id}) => id));
  // While a log that began anew is being read, what it has not brought yet stays readable, without a number.
  const numbered = entries.filter(({id, seq}) => seq !== null || unsent.has(id));
  if (!cursor.sweep) assert.deepEqual(entries, numbered);
  return {
    outbox: Object.fromEntries(outbox.map(({id, state}) => [id, state])),
    ...(returning.length > 0 && {returning: Object.fromEntries(returning.map(({id, state}) => [id, state]))}),
    stored: entries.filter(({id, seq}) => Number.isInteger(seq) && !unsent.has(id)).map(({id}) => id).sort(),
    cursor: cursor.after,
    epoch: cursor.epoch,
    clients: cursor.caseload?.clients ?? [],
    fill: Object.fromEntries(cursor.fill.map(({client, after}) => [client, after])),
  };
}

const told = ({receipt, covers, entries}) => ({receipt, covers: covers.length, entries: entries.map(({id}) => id)});

for (const {description, steps, after, push, numbering, handed, codes} of cases) {
  test(`device: ${description}`, async () => {
    const store = await freshStore({now: () => NOW});
    const asked = new Map();
    for (const step of steps) {
      for (const entry of step.save ?? []) await store.save({kind: 'note', body: {text: 'Own.'}, ...entry});
      if (step.ask) asked.set(step.ask, await request(store));
      if (!('reply' in step)) continue;
      const now = step.now ? Date.parse(step.now) : NOW;
      await hear(store, asked.get(step.to) ?? await request(store), await meant(step.reply, store), now);
    }
    assert.deepEqual(await holds(store), after);
    if (numbering) {
      const [{lastDeviceSeq}, devices] = await Promise.all([store.numbering(), store.devices()]);
      assert.deepEqual({last: lastDeviceSeq, former: devices.length - 1}, numbering);
      assert.equal(devices[0], store.device);
      assert.equal(new Set(devices).size, devices.length);
    }
    if (handed) assert.deepEqual((await toHandBack(store)).map(told), handed);
    if (codes) assert.deepEqual(Object.fromEntries((await store.held()).map(({id, code}) => [id, code])), codes);
    if (push) assert.deepEqual((await request(store)).push.map(({id}) => id), push);
  });
}
