import assert from 'node:assert/strict';
import {test} from 'node:test';
import {unsentOf, uuid7} from '../../../static/store/index.js';
import {CLIENT, EPOCH, OTHER, change, freshStore, fromServer, pulse} from './helpers.mjs';

test('a saved entry is complete, in the outbox and on the card', async () => {
  const store = await freshStore({now: () => Date.parse('2026-11-25T09:40:12.123Z')});
  const entry = await store.save(pulse());
  assert.equal(entry.recorded_at, '2026-11-25T09:40:12.123Z');
  assert.deepEqual([entry.author, entry.device, entry.device_seq], [store.userId, store.device, 1]);
  assert.deepEqual(Object.keys(entry).sort(), ['amends', 'author', 'body', 'client', 'device', 'device_seq', 'id',
    'kind', 'reason', 'recorded_at', 'schema', 'seq', 'utc_offset', 'visit', 'voids']);
  assert.deepEqual(await store.entriesOf(CLIENT), [entry]);
  assert.deepEqual(await store.counts(), {waiting: 1, held: 0, oldest: entry.recorded_at});
  assert.deepEqual(await store.cards(), [{client: CLIENT, kinds: ['pulse']}]);
});

test('device numbers have no gap and no double, saved one by one, together or at once', async () => {
  const store = await freshStore();
  await store.save(pulse());
  await store.saveMany([pulse('70'), pulse('71')]);
  await Promise.all([store.save(pulse('80')), store.save(pulse('81'))]);
  const numbers = (await store.entriesOf(CLIENT)).map((entry) => entry.device_seq);
  assert.deepEqual(numbers.sort(), [1, 2, 3, 4, 5]);
  assert.equal(await store.lastDeviceSeq(), 5);
});

test('two windows of one person share the counter', async () => {
  const one = await freshStore();
  const two = await freshStore({userId: one.userId});
  assert.equal(one.device, two.device);
  const saves = Array.from({length: 10}, (_, i) => (i % 2 ? one : two).save(pulse(String(60 + i))));
  const numbers = (await Promise.all(saves)).map((entry) => entry.device_seq).sort((a, b) => a - b);
  assert.deepEqual(numbers, [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
});

test('saving the same form twice is one entry; the same id with other content is refused', async () => {
  const store = await freshStore();
  const form = {...pulse(), id: uuid7()};
  const first = await store.save(form);
  assert.deepEqual(await store.save(form), first);
  await assert.rejects(store.save({...form, body: {fields: {rate: '99'}}}), TypeError);
  assert.equal((await store.counts()).waiting, 1);
  assert.equal(await store.lastDeviceSeq(), 1);
});

test('what has no canonical form is refused at the save, before anything is written', async () => {
  const store = await freshStore();
  await assert.rejects(store.save({...pulse(), body: {fields: {rate: 72.5}}}), /decimal written as text/);
  assert.equal((await store.counts()).waiting, 0);
  assert.equal(await store.lastDeviceSeq(), 0);
});

test('verdicts: sent leaves the outbox, held stays with its reason, no verdict changes nothing', async () => {
  const store = await freshStore();
  const [sent, held, silent, later] = await store.saveMany([pulse('1'), pulse('2'), pulse('3'), pulse('4')]);
  await store.applyReply(change({verdicts: [
    {id: sent.id, verdict: 'applied', seq: 7},
    {id: held.id, verdict: 'held', code: 'impossible', field: 'rate', message: 'Too low.'},
    {id: later.id, verdict: 'later', until: 5000},
    {id: uuid7(), verdict: 'applied', seq: 8},
  ]}));
  assert.equal((await store.entry(sent.id)).seq, 7);
  const box = await store.outbox();
  assert.deepEqual(box.map(({id, state}) => [id, state]),
    [[held.id, 'held'], [silent.id, 'waiting'], [later.id, 'waiting']]);
  assert.deepEqual([box[0].code, box[0].field, box[0].message], ['impossible', 'rate', 'Too low.']);
  assert.deepEqual((await store.unsent({now: 4999})).map(({id}) => id), [silent.id]);
  assert.deepEqual((await store.unsent({now: 5000})).map(({id}) => id), [silent.id, later.id]);
});

test('a held entry is withdrawn by its correction in one step, or sent again', async () => {
  const store = await freshStore();
  const [wrong, again] = await store.saveMany([pulse('2'), pulse('3')]);
  const held = (id) => ({id, verdict: 'held', code: 'impossible', message: 'Too low.'});
  await store.applyReply(change({verdicts: [held(wrong.id), held(again.id)]}));
  await store.sendAgain(again.id);
  const right = await store.save(pulse('72'), {withdraws: [wrong.id]});
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({id}) => id), [again.id, right.id]);
  assert.deepEqual(await store.counts().then(({waiting, held: count}) => [waiting, count]), [2, 0]);
  await store.applyReply(change({verdicts: [held(wrong.id)]}));
  assert.equal((await store.outbox()).find(({id}) => id === wrong.id).state, 'withdrawn', 'a late word changes nothing');
  await assert.rejects(store.save(pulse('73'), {withdraws: [again.id]}), TypeError);
  assert.equal((await store.counts()).waiting, 2, 'a refused withdrawal saves nothing');
});

test('a page, its cursor and the cards belong together', async () => {
  const store = await freshStore();
  const entries = [fromServer(3), fromServer(4, OTHER)];
  await store.applyReply(change({entries, head: 4, after: 4, caseload: {version: 'v1', clients: [CLIENT, OTHER]}}));
  assert.deepEqual(await store.cursor(),
    {epoch: EPOCH, after: 4, caseload: {version: 'v1', clients: [CLIENT, OTHER]}, fill: [], leaving: [], sweep: false});
  assert.deepEqual(await store.entriesOf(CLIENT), [entries[0]]);
  assert.equal((await store.cards()).length, 2);
});

test('a client gone from the caseload leaves the phone once nothing of theirs is unsent', async () => {
  const store = await freshStore();
  const caseload = (version, ...clients) => ({caseload: {version, clients}});
  const asked = {epoch: EPOCH, after: 2};
  await store.applyReply(change({entries: [fromServer(1), fromServer(2, OTHER)], head: 2, after: 2,
    ...caseload('v1', CLIENT, OTHER)}));
  const unsent = await store.save(pulse('72', OTHER));
  for (const client of [CLIENT, OTHER]) await store.saveDraft(`${client}/v1:pulse`, {rate: '7'});
  await store.applyReply(change({asked, head: 2, after: 2, ...caseload('v2', CLIENT)}));
  assert.equal((await store.entriesOf(OTHER)).length, 2, 'unsent: still here');
  assert.equal((await store.draftKeys()).length, 2);
  await store.applyReply(change({asked, head: 3, after: 3, verdicts: [{id: unsent.id, verdict: 'applied', seq: 3}]}));
  assert.deepEqual(await store.entriesOf(OTHER), []);
  assert.deepEqual((await store.cards()).map(({client}) => client), [CLIENT]);
  assert.deepEqual(await store.draftKeys(), [`${CLIENT}/v1:pulse`], 'what was begun about a client goes too');
  assert.deepEqual((await store.cursor()).leaving, []);
});

test('what is held stays when its client leaves', async () => {
  const store = await freshStore();
  const held = await store.save(pulse('2', OTHER));
  await store.applyReply(change({verdicts: [{id: held.id, verdict: 'held', code: 'impossible'}], entries: [fromServer(1, OTHER)],
    head: 1, after: 1, caseload: {version: 'v1', clients: [OTHER]}}));
  await store.applyReply(change({asked: {epoch: EPOCH, after: 1}, head: 1, after: 1, caseload: {version: 'v2', clients: []}}));
  assert.deepEqual((await store.entriesOf(OTHER)).map(({id}) => id), [held.id]);
  assert.equal((await store.counts()).held, 1);
  assert.deepEqual((await store.cards()).map(({kinds}) => kinds), [['pulse']]);
});

test('a client begun on this phone stays while the server has not heard of it', async () => {
  const store = await freshStore();
  await store.save(pulse('72', OTHER));
  await store.applyReply(change({caseload: {version: 'v1', clients: [CLIENT]}}));
  assert.equal((await store.entriesOf(OTHER)).length, 1);
});

test('another epoch: own entries are offered again, the cursor starts over', async () => {
  const store = await freshStore();
  const mine = await store.save(pulse());
  await store.applyReply(change({verdicts: [{id: mine.id, verdict: 'applied', seq: 9}], entries: [fromServer(8)],
    head: 9, after: 9}));
  await store.applyReply(change({asked: {epoch: EPOCH, after: 9}, epoch: 'restored', head: 2, after: 2,
    entries: [fromServer(2)]}));
  assert.deepEqual((await store.unsent()).map(({id}) => id), [mine.id]);
  assert.deepEqual(await store.cursor().then(({epoch, after}) => [epoch, after]), ['restored', 2]);
  assert.equal((await store.entry(mine.id)).seq, null);
});

test('what a restored log no longer has stays readable, and is to be handed back once it was read to its end', async () => {
  const store = await freshStore();
  const [kept, lost, held] = [fromServer(1), fromServer(2), await store.save(pulse('4'))];
  await store.applyReply(change({entries: [kept, lost], head: 9, after: 9,
    verdicts: [{id: held.id, verdict: 'held', code: 'impossible', message: 'Look again.'}]}));
  const anew = {asked: {epoch: EPOCH, after: 9}, epoch: 'restored', head: 5};
  await store.applyReply(change({...anew, after: 1, more: true}));
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({id}) => id).sort(), [kept.id, lost.id, held.id].sort());
  const fill = {asked: {epoch: 'restored', after: 1}, epoch: 'restored', head: 5, after: 5};
  await store.applyReply(change({...fill, entries: [kept], refill: [OTHER]}));
  assert.equal((await store.entriesOf(CLIENT)).length, 3, 'a fill is to come and may bring it');
  assert.deepEqual(await store.lost(), []);
  await store.applyReply(change({...fill, asked: {epoch: 'restored', after: 5, fill: [{client: OTHER, after: 0}]},
    fill: [{client: OTHER, after: 5, more: false}]}));
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({id}) => id).sort(), [kept.id, lost.id, held.id].sort());
  assert.deepEqual((await store.lost()).map(({id}) => id), [lost.id]);
  assert.equal(await unsentOf(store.userId), 2, 'it may be nowhere else');
  assert.deepEqual([(await store.counts()).waiting, (await store.outbox()).length], [0, 1], 'it is not this person\'s own work');
});

test('an answer out of a life of the log that was left says nothing: what it calls stored goes again', async () => {
  const store = await freshStore();
  const mine = await store.save(pulse());
  await store.applyReply(change({head: 9, after: 9}));
  await store.applyReply(change({asked: {epoch: EPOCH, after: 9}, epoch: 'restored', head: 2, after: 2}));
  await store.applyReply(change({asked: {epoch: EPOCH, after: 9}, head: 10, after: 10, entries: [fromServer(8)],
    verdicts: [{id: mine.id, verdict: 'applied', seq: 10}]}));
  assert.deepEqual((await store.entriesOf(CLIENT)).map(({id, seq}) => [id, seq]), [[mine.id, null]]);
  assert.deepEqual((await store.unsent()).map(({id}) => id), [mine.id]);
});

test('drafts and facts are kept per key and dropped', async () => {
  const store = await freshStore();
  await store.saveDraft('visit-1.pulse', {rate: '7'});
  await store.setMeta('settings', {early_warning: true});
  assert.deepEqual(await store.draft('visit-1.pulse'), {rate: '7'});
  assert.deepEqual(await store.meta('settings'), {early_warning: true});
  await store.dropDraft('visit-1.pulse');
  assert.equal(await store.draft('visit-1.pulse'), null);
  assert.equal(await store.meta('nothing'), null);
});

test('screens of this window and of another hear of a save', async () => {
  const one = await freshStore();
  const two = await freshStore({userId: one.userId});
  const heard = new Promise((resolve) => { two.subscribe(resolve); });
  await one.save(pulse());
  assert.deepEqual(await heard, {type: 'saved', clients: [CLIENT], elsewhere: true});
});
