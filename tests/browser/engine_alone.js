// The app's store and engine under window.bench, no screens: what a version leaves behind as its engine.js.
import * as store from '../../static/store/index.js';
import {createEngine} from '../../static/sync/engine.js';
import * as update from '../../static/sync/update.js';
import {dump, load} from '../javascript/store/dump.mjs';

const PHRASE = 'quiet lantern copper meadow';
const project = (entries, client) => ({client, count: entries.length});
// One of the engine's waits made short: what is tested is what follows when it has passed.
const soonInsteadOf = (long) => ({
  setTimeout: (work, wait) => setTimeout(work, wait === long ? 300 : wait),
  clearTimeout: (timer) => clearTimeout(timer),
});

// What a person does at the lock screen, with few rounds: the engine's tests are not about that.
async function openStore(userId, phrase = PHRASE) {
  const keys = store.keysOf(userId, {rounds: 1000});
  const makeOrUnlock = async () => ((await keys.state()).made ? keys.unlock(phrase) : keys.create(phrase));
  await makeOrUnlock().catch(makeOrUnlock);  // another window may have made the key meanwhile
  return store.openStore(userId, {project});
}

globalThis.bench = {
  ...store,
  ...update,
  dump,
  load,
  createEngine,
  createEngineWithout: (wait, parts) => createEngine({...parts, timers: soonInsteadOf(wait)}),
  openStore,
  phrase: PHRASE,
  readyCalls: 0,
};
update.onUpdateReady(() => { globalThis.bench.readyCalls += 1; });
globalThis.bench.registered = update.registerWorker();
document.getElementById('app').textContent = `Bench ${import.meta.url.split('/').pop()}`;
