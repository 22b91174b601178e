// A tiny database beside the people's own: who used Lintel on this phone last, and the few facts
// the lock screen shows. No client's data.
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
 * @param {{id: string, name?: string, role?: string, organisation?: object}} person
 */
export function rememberPerson(person) {
  return device().run(['people', 'facts'], 'readwrite', async (tx) => {
    await tx.objectStore('people').put(person);
    await tx.objectStore('facts').put({key: CURRENT, value: person.id});
  }, {durability: 'strict'});
}

/**
 * The person who used this phone last and has not signed out, or null.
 * @returns {Promise<{id: string, name?: string, role?: string, organisation?: object}|null>}
 */
export function currentPerson() {
  return device().run(['people', 'facts'], 'readonly', async (tx) => {
    const current = await tx.objectStore('facts').get(CURRENT);
    return current?.value ? await tx.objectStore('people').get(current.value) ?? null : null;
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
