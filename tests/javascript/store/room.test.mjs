/** The browser's promise to keep the storage: given, refused, not to be had, or left to the person. */
import assert from 'node:assert/strict';
import test from 'node:test';
import {requestPersistence} from '../../../static/store/room.js';

const storage = (persisted, persist) => ({persisted: async () => persisted, persist});

test('what the browser answers is told', async () => {
  assert.equal(await requestPersistence(storage(true, () => assert.fail('not asked again'))), 'granted');
  assert.equal(await requestPersistence(storage(false, async () => true)), 'granted');
  assert.equal(await requestPersistence(storage(false, async () => false)), 'refused');
  assert.equal(await requestPersistence({}), 'unavailable');
});

test('a question that nobody answers holds nothing up', async () => {
  assert.equal(await requestPersistence(storage(false, () => new Promise(() => {})), 5), 'asked');
});
