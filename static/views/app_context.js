/** What every screen may use, handed down once: store, engine, who is signed in, and where to go. */
import {createContext} from 'preact';
import {useContext, useEffect, useState} from 'preact/hooks';

/**
 * @typedef {object} App
 * @property {object} store the device's store of the signed-in person
 * @property {object} engine the sync engine
 * @property {{id: string, name: string, role: string}} me
 * @property {{early_warning: boolean, reassessment: object, calendar: object}} settings what the service has
 *   switched on, which rules of reassessment are in force, on which days it works
 * @property {{of: (client: string) => object[]}} changes real changes at a client's visits, as far as worked out
 * @property {{lock: Function, outgrown: Function, changePassphrase: Function, addPasskey: Function, removePasskeys: Function}} guard
 * @property {(path: string) => void} go move to another screen
 */

export const AppContext = createContext(/** @type {App|null} */ (null));

/** @returns {App} */
export function useApp() {
  return useContext(AppContext);
}

/**
 * What `load` answers, loaded again whenever the store changes (here or in another window).
 * @template T
 * @param {(app: App) => Promise<T>} load
 * @param {unknown[]} inputs load again when one of these changes
 * @returns {T|undefined} undefined until the first answer is there
 */
export function useStored(load, inputs) {
  const app = useApp();
  const [answer, setAnswer] = useState(/** @type {T|undefined} */ (undefined));
  useEffect(() => {
    const {refresh, stop} = oneAtATime(() => load(app), setAnswer);
    const unsubscribe = app.store.subscribe((change) => MATTERS.has(change.type) && refresh());
    refresh();
    return () => {
      unsubscribe();
      stop();
    };
  }, inputs);
  return answer;
}

// The pages of a long sync each tell `synced`; the cards follow at its end, and one look then is enough.
const MATTERS = new Set(['saved', 'cards']);

/** Loads again when asked meanwhile, but never twice at once: a later answer is never overtaken by an earlier. */
function oneAtATime(load, give) {
  let current = true;
  let busy = false;
  let wanted = false;
  // A screen that has gone, because the phone was locked, no longer minds what could not be read.
  const unlessGone = (failure) => { if (current) throw failure; };
  async function refresh() {
    wanted = busy;
    if (busy) return;
    busy = true;
    try {
      const found = await load().catch(unlessGone);
      if (current) give(found);
    } finally {
      busy = false;
    }
    if (current && wanted) refresh();
  }
  return {refresh, stop: () => { current = false; }};
}

/** The state of sync, kept up to date. */
export function useSyncStatus() {
  const {engine} = useApp();
  const [status, setStatus] = useState(engine.status());
  useEffect(() => engine.subscribe(() => setStatus({...engine.status()})), [engine]);
  return status;
}
