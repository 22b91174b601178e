// The engine's pure parts: batches, waits, and how an answer moves the cursor.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {delay, retryAfter} from '../../../static/sync/backoff.js';
import {nextBatch} from '../../../static/sync/batch.js';
import {underLock} from '../../../static/sync/lock.js';
import {verdictsFor} from '../../../static/sync/plan.js';
import {START, moved, startedOver} from '../../../static/store/cursor.js';
import {createLocks} from './helpers.mjs';

const entry = (id, visit = null, text = '') => ({id, visit, text});
const ids = (batch) => batch.map(({id}) => id).join('');
const LIMIT = {items: 3, bytes: 10_000};

const batches = [
  ['nothing to send', [], LIMIT, ''],
  ['all fit', [entry('a'), entry('b')], LIMIT, 'ab'],
  ['no more than the limit', [entry('a'), entry('b'), entry('c'), entry('d')], LIMIT, 'abc'],
  ['a visit that does not fit whole waits for the next batch',
    [entry('a'), entry('b'), entry('c', 'v'), entry('d', 'v')], LIMIT, 'ab'],
  ['a visit travels together though another entry lies between',
    [entry('a', 'v'), entry('b'), entry('c', 'v')], LIMIT, 'acb'],
  ['a visit alone too large is split', ['a', 'b', 'c', 'd'].map((id) => entry(id, 'v')), LIMIT, 'abc'],
  ['bytes count too', [entry('a', null, 'x'.repeat(60)), entry('b', null, 'x'.repeat(60))], {items: 9, bytes: 150}, 'a'],
  ['bytes are counted as sent, not as characters',
    [entry('a', null, '😀'.repeat(15)), entry('b', null, '😀'.repeat(15))], {items: 9, bytes: 150}, 'a'],
  ['one travels, however large', [entry('a', null, 'x'.repeat(500)), entry('b')], {items: 9, bytes: 100}, 'a'],
];
for (const [name, entries, limit, expected] of batches) {
  test(`batch: ${name}`, () => assert.equal(ids(nextBatch(entries, limit)), expected));
}

test('waits: full jitter below a doubling ceiling of five minutes', () => {
  const longest = 0.999999;
  assert.deepEqual([1, 2, 3, 9, 50].map((failures) => delay(failures, {random: longest})),
    [2000, 4000, 8000, 300_000, 300_000]);
  assert.equal(delay(5, {random: 0}), 0);
});

test('what the server asks for is kept to, never shortened', () => {
  assert.equal(delay(1, {random: 0, askedSeconds: 30}), 30_000);
  assert.ok(delay(1, {random: 0.999, askedSeconds: 30}) <= 34_000);
  assert.equal(delay(9, {random: 0, askedSeconds: 0}), 0);
});

const NOW = Date.parse('2026-11-25T09:00:00Z');
for (const [header, seconds] of [[null, null], ['', null], ['120', 120], ['0', 0], [' 5 ', 5], ['soon', null],
  ['Wed, 25 Nov 2026 09:01:30 GMT', 90], ['Wed, 25 Nov 2026 08:00:00 GMT', 0], ['86400', 3600]]) {
  test(`Retry-After ${JSON.stringify(header)}`, () => assert.equal(retryAfter(header, NOW), seconds));
}

test('verdicts: the first word on an id counts, positions only when none is missing', () => {
  const pushed = [{id: 'a'}, {id: 'b'}];
  const words = (verdicts) => verdictsFor(pushed, verdicts, 0).map(({id, verdict}) => `${id}:${verdict}`);
  assert.deepEqual(words([{id: 'a', verdict: 'applied'}, {id: 'a', verdict: 'held'}]), ['a:applied']);
  assert.deepEqual(words([{id: null, verdict: 'held'}]), [], 'which of the two was it?');
  assert.deepEqual(words([{id: 'a', verdict: 'applied'}, {id: null, verdict: 'held'}]), ['a:applied', 'b:held']);
  assert.deepEqual(words([{id: 'x', verdict: 'applied'}, {id: 'a', verdict: 'toString'}]), []);
});

const page = (more = {}) => ({asked: {epoch: 'e', after: 5, fill: [{client: 'a', after: 0}]}, epoch: 'e', head: 9, after: 9,
  more: false, caseload: null, fill: [], refill: [], ...more});
const at = (more = {}) => ({...START, epoch: 'e', after: 5, caseload: {version: '1', clients: ['a', 'b']}, ...more});
const nobody = {here: [], unsent: new Set()};

const moves = [
  ['the first page', START, page({asked: {epoch: null, after: 0, fill: []}, caseload: {version: '1', clients: ['a']}}),
    {after: 9, epoch: 'e', fill: [], caseload: {version: '1', clients: ['a']}}],
  ['the next page', at(), page(), {after: 9, caseload: at().caseload}],
  ['a page another window had already passed', at({after: 12}), page(), {after: 12}],
  ['a page asked from beyond where we stand', at({after: 0}), page(), {after: 0}],
  ['a page of an epoch we have left', at({epoch: 'new'}), page(), {epoch: 'new', after: 5}],
  ['another epoch', at(), page({epoch: 'new', head: 3, after: 3}), {epoch: 'new', after: 3, fill: []}],
  ['a server behind us', at(), page({head: 3, after: 2}), {epoch: 'e', after: 2}],
  ['a newcomer is filled', at(), page({caseload: {version: '2', clients: ['a', 'b', 'c']}}),
    {fill: [{client: 'c', after: 0}]}],
  ['a fill goes on', at({fill: [{client: 'a', after: 0}]}), page({fill: [{client: 'a', after: 7, more: true}]}),
    {fill: [{client: 'a', after: 7}]}],
  ['a fill that began anew meanwhile is not moved', at({fill: [{client: 'a', after: 0}]}),
    page({asked: {epoch: 'e', after: 5, fill: [{client: 'a', after: 3}]}, fill: [{client: 'a', after: 9, more: false}]}),
    {fill: [{client: 'a', after: 0}]}],
  ['a fill ends', at({fill: [{client: 'a', after: 0}]}), page({fill: [{client: 'a', after: 9, more: false}]}), {fill: []}],
  ['a fill the server passed over stays', at({fill: [{client: 'a', after: 3}]}), page(), {fill: [{client: 'a', after: 3}]}],
  ['a fill of a client who left is dropped', at({fill: [{client: 'b', after: 3}]}),
    page({caseload: {version: '2', clients: ['a']}}), {fill: []}],
  ['after another epoch, more to come', at(), page({epoch: 'new', head: 9, after: 3, more: true}), {after: 3, sweep: true}],
  ['after another epoch, read to its end', at({sweep: true}), page(), {sweep: false}],
  ['after another epoch, a fill to come', at({sweep: true, fill: [{client: 'a', after: 3}]}), page(), {sweep: true}],
  ['after another epoch, a page with a gap before it', at({sweep: true, after: 0}), page(), {sweep: true}],
  ['a differing entry has its client filled', at(), page({refill: ['a']}), {fill: [{client: 'a', after: 0}]}],
];
for (const [name, cursor, answer, expected] of moves) {
  test(`cursor: ${name}`, () => {
    const next = moved(cursor, answer, nobody);
    assert.deepEqual(Object.fromEntries(Object.keys(expected).map((key) => [key, next[key]])), expected);
  });
}

test('who leaves: those the caseload no longer names, but not a client the server has yet to hear of', () => {
  const left = (here, unsent, more = {}) => moved(at(more), page({caseload: {version: '2', clients: ['a']}}),
    {here, unsent: new Set(unsent)}).leaving;
  assert.deepEqual(left(['a', 'b'], []), ['b']);
  assert.deepEqual(left(['a', 'b'], ['b']), ['b'], 'it stays on the list until its entries are sent');
  assert.deepEqual(left(['a', 'new'], ['new']), []);
  assert.deepEqual(left(['a', 'new'], ['new'], {leaving: ['new']}), ['new']);
  const quiet = (here, unsent, leaving) => moved(at({leaving}), page(), {here, unsent: new Set(unsent)}).leaving;
  assert.deepEqual(quiet(['c'], ['c'], ['c']), ['c'], 'no news of the caseload');
  assert.deepEqual(quiet(['a', 'c'], [], []), ['c'], 'what came about somebody who is not on it');
});

test('a server starts over with another epoch, or when it stands behind us', () => {
  assert.equal(startedOver(page()), false);
  assert.equal(startedOver(page({epoch: 'new'})), true);
  assert.equal(startedOver(page({head: 4})), true);
});

test('work that fails under the lock is not done a second time without it', async () => {
  let done = 0;
  const locks = createLocks();
  const work = async () => {
    done += 1;
    throw new Error('the storage failed');
  };
  await assert.rejects(underLock({locks, timers: globalThis, name: 'l'}, work), /storage/);
  assert.equal(done, 1);
  const broken = {request: () => Promise.reject(new DOMException('', 'SecurityError'))};
  assert.equal(await underLock({locks: broken, timers: globalThis, name: 'l'}, async () => 'done'), 'done');
});
