// The cases Python and JavaScript must agree on, from tests/vectors/sync.
import assert from 'node:assert/strict';
import {createHash} from 'node:crypto';
import {readFileSync} from 'node:fs';
import {test} from 'node:test';
import {createExchange, lessMayHelp} from '../../../static/sync/exchange.js';
import {canonical, entryHash, isReply, millisecondsOf, uuid7} from '../../../static/sync/messages.js';
import {requestFor} from '../../../static/sync/plan.js';
import {START} from '../../../static/store/cursor.js';

const vectors = (name) => JSON.parse(readFileSync(new URL(`../../vectors/sync/${name}.json`, import.meta.url), 'utf8'));
const sha256 = (text) => createHash('sha256').update(text).digest('hex');

const {cases, refused} = vectors('canonical');
for (const {description, value, canonical: text, sha256: hash} of cases) {
  test(`canonical: ${description}`, () => {
    assert.equal(canonical(value), text);
    assert.equal(sha256(canonical(value)), hash);
  });
}
for (const {description, json, code, field} of refused.filter(({text_only: textOnly}) => !textOnly)) {
  test(`canonical refuses ${description}`, () => {
    assert.throws(() => canonical(JSON.parse(json)), {code, field});
  });
}

test('canonical refuses what is no JSON at all', () => {
  for (const value of [undefined, NaN, Infinity, 1n, new Date(0), () => 1, {a: undefined}]) {
    assert.throws(() => canonical(value), {code: 'not_exact'});
  }
  let deep = 1;
  for (let i = 0; i < 25; i += 1) deep = [deep];
  assert.throws(() => canonical(deep), {code: 'too_deep'});
  assert.equal(canonical(deep[0]), `${'['.repeat(24)}1${']'.repeat(24)}`);
});

for (const {description, entry, canonical: text, sha256: hash} of vectors('entry_hash').cases) {
  test(`entry hash: ${description}`, async () => {
    const {seq: _seq, received_at: _received, ...own} = entry;
    assert.equal(canonical(own), text);
    assert.equal(await entryHash(entry), hash);
  });
}

for (const {description, milliseconds, random, uuid} of vectors('uuid7').cases) {
  test(`uuid7: ${description}`, () => {
    assert.equal(uuid7(milliseconds, Uint8Array.from(Buffer.from(random, 'hex'))), uuid);
    assert.equal(millisecondsOf(uuid), milliseconds);
  });
}

test('uuid7 never repeats itself and sorts by time', () => {
  const made = Array.from({length: 2000}, (_, i) => uuid7(1764063612123 + i));
  assert.equal(new Set(made).size, 2000);
  assert.deepEqual(made.toSorted(), made);
  assert.throws(() => uuid7(-1), RangeError);
});

const {requests, replies} = vectors('messages');
for (const {description, message, valid, sent, returned = 0} of replies) {
  test(`a reply is ${valid ? 'an' : 'no'} answer: ${description}`, () => {
    assert.equal(isReply(message, sent.length, returned), valid);
  });
}

test('our requests have exactly the keys of the valid ones', () => {
  const facts = {build: 'b', device: uuid7(), deviceName: 'Phone', unsent: 0, lastDeviceSeq: 0, push: []};
  const ours = requestFor(START, facts);
  const [theirs] = requests.filter(({valid}) => valid);
  assert.deepEqual(Object.keys(ours).sort(), Object.keys(theirs.message).sort());
  assert.deepEqual(Object.keys(ours.pull).sort(), Object.keys(theirs.message.pull).sort());
});

for (const {description, status, type, body, means} of vectors('refusals').cases) {
  test(`a refusal means ${means ?? 'neither'}: ${description}`, async () => {
    const answer = async () => new Response(body, {status, headers: {'content-type': type}});
    const exchange = createExchange({fetch: answer, now: Date.now, timers: globalThis});
    const {kind} = await exchange.sync({push: []}, {csrf: 'c', pack: false, person: 'p'});
    assert.equal(kind === 'sign_in', means === 'sign_in', kind);
    assert.equal(lessMayHelp(kind), means === 'content', kind);
  });
}
