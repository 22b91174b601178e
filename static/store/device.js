// A tiny database beside the people's own: the ids of those who use Lintel on this phone, and who did last.
// It is read before anything is unlocked, so it holds nothing else.
import {database} from './database.js';

const NAME = 'lintel-device';
const CURRENT = 'current';

let shared = null;

const device = () => {
  shared ??= database(NAME, {
    version: 1,
    upgrade(db, from) {
      if (from < 1) {
        db.createObjectStore('people', {keyPath: 'id'});
        db.createObjectStore('facts', {keyPath: 'key'});
      }
    },
  });
  return shared;
};

/**
 * Notes who uses this phone now.
 * @param {{id: string}} person
 */
export function rememberPerson({id}) {
  return device().run(['people', 'facts'], 'readwrite', async (tx) => {
    await tx.objectStore('people').put({id});
    await tx.objectStore('facts').put({key: CURRENT, value: id});
  }, {durability: 'strict'});
}

/**
 * The person who used this phone last and has not signed out, or null.
 * @returns {Promise<{id: string}|null>}
 */
export function currentPerson() {
  return device().run(['people', 'facts'], 'readonly', async (tx) => {
    const current = await tx.objectStore('facts').get(CURRENT);
    return current?.value ? {id: current.value} : null;
  });
}

/** After a sign-out nobody is current; the person's own database stays as it is. */
export function forgetCurrentPerson() {
  return device().run(['facts'], 'readwrite', (tx) => tx.objectStore('facts').put({key: CURRENT, value: null}));
}

/** Ids of everybody whose database may lie on this phone. @returns {Promise<string[]>} */
export function knownPeople() {
  return device().run(['people'], 'readonly', (tx) => tx.objectStore('people').getAllKeys());
}

/** For tests: lets go of the connection. */
export async function closeDevice() {
  await shared?.close();
  shared = null;
}
