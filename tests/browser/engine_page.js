// The page of the engine's tests: the real modules under window.bench, no screens.
import {clientCard} from '../../static/clinical/index.js';
import * as store from '../../static/store/index.js';
import {createEngine} from '../../static/sync/engine.js';
import * as update from '../../static/sync/update.js';
import {dump, load} from '../javascript/store/dump.mjs';

const project = (entries, client) => ({client, count: entries.length});
// One of the engine's waits made short: what is tested is what follows when it has passed.
const soonInsteadOf = (long) => ({
  setTimeout: (work, wait) => setTimeout(work, wait === long ? 300 : wait),
  clearTimeout: (timer) => clearTimeout(timer),
});

globalThis.bench = {
  ...store,
  ...update,
  clientCard,
  dump,
  load,
  createEngine,
  createEngineWithout: (wait, parts) => createEngine({...parts, timers: soonInsteadOf(wait)}),
  openStore: (userId) => store.openStore(userId, {project}),
  readyCalls: 0,
};
update.onUpdateReady(() => { globalThis.bench.readyCalls += 1; });
globalThis.bench.registered = update.registerWorker();
document.getElementById('app').textContent = `Bench ${import.meta.url.split('/').pop()}`;
