// The keyring of a person on this phone: made, opened, changed. It lies beside what it guards, so that wiping
// one wipes the other. Wrong passphrases are slowed down; they never erase anything.
import {WrongKey, addPasskey, changePassphrase, makeKeyring, openKeyring, openWithPasskey, passkeysOf,
  withoutPasskeys} from '../crypto/keyring.js';
import {askPasskey, makePasskey} from '../crypto/passkey.js';
import {whyUnfit} from '../crypto/passphrase.js';
import {database} from './database.js';
import {resealAll} from './reseal.js';
import {KEYRING, VERSION, upgrade} from './schema.js';
import {holdKey} from './seal.js';

export {NoPasskey, passkeysPossible} from '../crypto/passkey.js';
export {suggestPassphrase, whyUnfit} from '../crypto/passphrase.js';

// Our choice: the first slips cost nothing much, a machine that tries has to wait.
const FREE_TRIES = 3;
const LONGEST_WAIT = 60_000;

/** The passphrase is wrong, or it is too early to try again; `waitUntil` is milliseconds since 1970. */
export class NotOpened extends Error {
  /** @param {'wrong'|'early'|'unfit'} code @param {{waitUntil?: number, message?: string}} [facts] */
  constructor(code, {waitUntil = 0, message = ''} = {}) {
    super(message || code);
    this.code = code;
    this.waitUntil = waitUntil;
  }
}

/**
 * @param {string} name of the person's database
 * @param {{now?: () => number, rounds?: number}} [options] rounds: of the key derivation, for tests
 */
export function createKeys(name, {now = Date.now, rounds} = {}) {
  const within = async (work) => {
    const db = database(name, {version: VERSION, upgrade});
    try {
      return await work(db);
    } finally {
      await db.close();
    }
  };
  const kept = (db) => db.run(['meta'], 'readonly', (tx) => tx.objectStore('meta').get(KEYRING)).then((row) => row?.value ?? null);
  const keep = (db, value) => db.run(['meta'], 'readwrite', (tx) => tx.objectStore('meta').put({key: KEYRING, value}), {durability: 'strict'});

  /** Runs an attempt to open; counts the wrong ones, in this window and in every other. */
  async function attempt(db, open) {
    const found = await kept(db);
    if (!found) throw new NotOpened('wrong');
    if (now() < found.waitUntil) throw new NotOpened('early', {waitUntil: found.waitUntil});
    try {
      const opened = await open(found.keyring);
      if (found.failures) await keep(db, {...found, failures: 0, waitUntil: 0});
      return opened;
    } catch (failure) {
      if (!(failure instanceof WrongKey)) throw failure;
      const failures = found.failures + 1;
      const waitUntil = failures < FREE_TRIES ? 0 : now() + Math.min(1000 * 2 ** (failures - FREE_TRIES), LONGEST_WAIT);
      await keep(db, {...found, failures, waitUntil});
      throw new NotOpened('wrong', {waitUntil});
    }
  }

  return {
    /** Whether a passphrase was chosen, and whether a passkey opens it too. */
    state: () => within(async (db) => {
      const found = await kept(db);
      return {made: found !== null, passkey: found !== null && passkeysOf(found.keyring).length > 0};
    }),

    /** Makes the key for a new passphrase, seals what an earlier version left open, and unlocks. */
    create: (passphrase) => within(async (db) => {
      const unfit = whyUnfit(passphrase);
      if (unfit) throw new NotOpened('unfit', {message: unfit});
      const {key, keyring} = await makeKeyring(passphrase, {rounds});
      await db.run(['meta'], 'readwrite', (tx) => onlyFirst(tx, {keyring, failures: 0, waitUntil: 0}), {durability: 'strict'});
      holdKey(key);
      await resealAll(db, key);
    }),

    unlock: (passphrase) => within(async (db) => {
      const key = await attempt(db, (keyring) => openKeyring(keyring, passphrase));
      holdKey(key);
      await resealAll(db, key);  // where the making of the key was interrupted
    }),

    unlockWithPasskey: () => within(async (db) => {
      const found = await kept(db);
      const {credential, secret} = await askPasskey(passkeysOf(found.keyring));
      const wrap = passkeysOf(found.keyring).find((each) => same(each.credential, credential));
      holdKey(await attempt(db, () => openWithPasskey(wrap, secret)));
    }),

    /** Only the wraps change: what is sealed stays as it is. */
    changePassphrase: (before, passphrase) => within(async (db) => {
      const unfit = whyUnfit(passphrase);
      if (unfit) throw new NotOpened('unfit', {message: unfit});
      const keyring = await attempt(db, (known) => changePassphrase(known, before, passphrase, {rounds}));
      await keep(db, {keyring, failures: 0, waitUntil: 0});
    }),

    /** Has a passkey of this phone open it too; the passphrase goes on working. */
    addPasskey: (passphrase, person) => within(async (db) => {
      await attempt(db, (known) => openKeyring(known, passphrase));  // before the person is asked for a finger
      const passkey = await makePasskey(person);
      const keyring = await attempt(db, (known) => addPasskey(withoutPasskeys(known), passphrase, passkey));
      await keep(db, {keyring, failures: 0, waitUntil: 0});
    }),

    removePasskeys: () => within(async (db) => {
      const found = await kept(db);
      await keep(db, {...found, keyring: withoutPasskeys(found.keyring)});
    }),
  };
}

async function onlyFirst(tx, value) {
  if (await tx.objectStore('meta').get(KEYRING)) throw new NotOpened('wrong');  // another window was first
  await tx.objectStore('meta').put({key: KEYRING, value});
}

const same = (one, other) => one.length === other.length && one.every((byte, index) => byte === other[index]);
