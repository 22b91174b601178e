/** What every screen may use, handed down once: store, engine, who is signed in, and where to go. */
import {createContext} from 'preact';
import {useContext, useEffect, useState} from 'preact/hooks';

/**
 * @typedef {object} App
 * @property {object} store the device's store of the signed-in person
 * @property {object} engine the sync engine
 * @property {{id: string, name: string, role: string}} me
 * @property {{early_warning: boolean}} settings what the service has switched on
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
    let current = true;
    const refresh = () => load(app).then((found) => current && setAnswer(found));
    refresh();
    const stop = app.store.subscribe(refresh);
    return () => {
      current = false;
      stop();
    };
  }, inputs);
  return answer;
}

/** The state of sync, kept up to date. */
export function useSyncStatus() {
  const {engine} = useApp();
  const [status, setStatus] = useState(engine.status());
  useEffect(() => engine.subscribe(() => setStatus({...engine.status()})), [engine]);
  return status;
}
