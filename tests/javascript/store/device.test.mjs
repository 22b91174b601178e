import assert from 'node:assert/strict';
import {test} from 'node:test';
import {
  currentPerson, forgetCurrentPerson, knownPeople, rememberPerson, removePerson, requestPersistence, storageEstimate, unsentOf,
  unsentOfOthers,
} from '../../../static/store/index.js';
import {CLIENT, freshStore, pulse} from './helpers.mjs';

test('the phone knows who uses it, until they sign out; nothing of theirs goes', async () => {
  assert.equal(await currentPerson(), null);
  const first = await freshStore();
  await first.saveMany([pulse('70'), pulse('71')]);
  const ann = {id: first.userId, name: 'Ann Example', role: 'therapist', organisation: {id: 'o', settings: {}}};
  await rememberPerson(ann);
  assert.deepEqual(await currentPerson(), {id: ann.id}, 'only the id: this is read before anything is unlocked');
  await forgetCurrentPerson();
  assert.equal(await currentPerson(), null);
  assert.deepEqual(await knownPeople(), [ann.id]);

  const second = await freshStore();
  await rememberPerson({id: second.userId, name: 'Ben Example'});
  assert.deepEqual(await second.cards(), []);
  assert.deepEqual(await second.entriesOf(CLIENT), []);
  assert.notEqual(second.device, first.device, 'a number counts within one person on one phone');
  assert.equal(await unsentOfOthers(second.userId), 2);
  assert.equal(await unsentOfOthers(first.userId), 0);
  assert.equal((await first.counts()).waiting, 2);
  await assert.rejects(removePerson(first.userId), {code: 'unsent'});
  assert.equal(await unsentOf(first.userId), 2);
});

test('a person whose entries have all arrived can be removed from the phone', async () => {
  const store = await freshStore();
  const entry = await store.save(pulse('70'));
  await store.settle([{id: entry.id, verdict: 'applied', seq: 1}]);
  await store.close();
  await removePerson(store.userId);
  const again = await freshStore({userId: store.userId});
  assert.deepEqual(await again.entriesOf(CLIENT), []);
  assert.notEqual(again.device, store.device, 'a number is never used twice');
});

test('persistence: asked for once, its refusal is told', async () => {
  let asked = 0;
  const browser = (already, answer) => ({
    persisted: async () => already,
    persist: async () => { asked += 1; return answer; },
  });
  assert.equal(await requestPersistence(browser(false, true)), 'granted');
  assert.equal(await requestPersistence(browser(false, false)), 'refused');
  assert.equal(await requestPersistence(browser(true, false)), 'granted');
  assert.equal(asked, 2);
  assert.equal(await requestPersistence({}), 'unavailable');
});

test('room: nearly full from four fifths on', async () => {
  const at = (usage, quota) => storageEstimate({estimate: async () => ({usage, quota})});
  assert.equal((await at(799, 1000)).nearlyFull, false);
  assert.equal((await at(800, 1000)).nearlyFull, true);
  assert.equal((await at(0, 0)).nearlyFull, false);
  assert.equal(await storageEstimate({}), null);
});
