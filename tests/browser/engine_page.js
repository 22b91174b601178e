// The page of the engine's tests: the real modules under window.bench, no screens.
import * as store from '../../static/store/index.js';
import {createEngine} from '../../static/sync/engine.js';
import * as update from '../../static/sync/update.js';

const project = (entries, client) => ({client, count: entries.length});

globalThis.bench = {
  ...store,
  ...update,
  createEngine,
  openStore: (userId) => store.openStore(userId, {project}),
  readyCalls: 0,
};
update.onUpdateReady(() => { globalThis.bench.readyCalls += 1; });
globalThis.bench.registered = update.registerWorker();
document.getElementById('app').textContent = `Bench ${import.meta.url.split('/').pop()}`;
