// The data key of one person on one device, and the wraps it is kept in: one for the passphrase, one for each
// passkey. The key itself is never stored; unwrapped it lives in memory and cannot be exported.
import {normalPassphrase} from './passphrase.js';

// OWASP Password Storage Cheat Sheet: at least 600,000 rounds of PBKDF2 with HMAC-SHA-256.
export const FEWEST_ROUNDS = 600_000;
const MOST_ROUNDS = 20_000_000;
const UNLOCK_MILLISECONDS = 500;  // our choice: what a therapist at the door may wait
const PROBE_ROUNDS = 100_000;
const KEY = {name: 'AES-GCM', length: 256};
const USES = ['encrypt', 'decrypt'];
const subtle = () => globalThis.crypto.subtle;
const random = (length) => crypto.getRandomValues(new Uint8Array(length));
const bytesOf = (text) => new TextEncoder().encode(text);

/**
 * @typedef {object} Wrap
 * @property {'passphrase'|'passkey'} kind
 * @property {Uint8Array} salt
 * @property {number} [rounds] of PBKDF2, for a passphrase
 * @property {Uint8Array} [credential] the passkey's id
 * @property {Uint8Array} iv
 * @property {Uint8Array} wrapped
 */

/** @typedef {{version: 1, wraps: Wrap[]}} Keyring */

/** The passphrase or passkey does not open this keyring. */
export class WrongKey extends Error {}

/**
 * A new data key, wrapped for a passphrase.
 * @param {string} passphrase
 * @param {{rounds?: number}} [options]
 * @returns {Promise<{key: CryptoKey, keyring: Keyring}>}
 */
export async function makeKeyring(passphrase, {rounds} = {}) {
  const key = await subtle().generateKey(KEY, true, USES);
  const keyring = {version: 1, wraps: [await wrapFor(passphrase, key, rounds ?? await calibrated())]};
  return {key: await openKeyring(keyring, passphrase), keyring};
}

/**
 * The data key behind a passphrase.
 * @param {Keyring} keyring
 * @param {string} passphrase
 * @returns {Promise<CryptoKey>}
 * @throws {WrongKey}
 */
export const openKeyring = (keyring, passphrase) => unwrapped(keyring, passphrase, false);

/**
 * The same key under another passphrase; what is sealed stays as it is, passkeys too.
 * @param {Keyring} keyring
 * @param {string} before
 * @param {string} passphrase
 * @param {{rounds?: number}} [options]
 * @returns {Promise<Keyring>}
 * @throws {WrongKey}
 */
export async function changePassphrase(keyring, before, passphrase, {rounds} = {}) {
  const key = await unwrapped(keyring, before, true);
  const others = keyring.wraps.filter(({kind}) => kind !== 'passphrase');
  return {...keyring, wraps: [await wrapFor(passphrase, key, rounds ?? await calibrated()), ...others]};
}

/**
 * The same key also wrapped for a passkey.
 * @param {Keyring} keyring
 * @param {string} passphrase
 * @param {{credential: Uint8Array, salt: Uint8Array, secret: Uint8Array}} passkey its answer to the salt
 * @returns {Promise<Keyring>}
 * @throws {WrongKey}
 */
export async function addPasskey(keyring, passphrase, {credential, salt, secret}) {
  const key = await unwrapped(keyring, passphrase, true);
  const facts = {kind: 'passkey', salt, credential};
  return {...keyring, wraps: [...keyring.wraps, await wrap(key, facts, await keyFromSecret(secret, salt))]};
}

/** The same key without its passkeys. @param {Keyring} keyring @returns {Keyring} */
export const withoutPasskeys = (keyring) => ({...keyring, wraps: keyring.wraps.filter(({kind}) => kind !== 'passkey')});

/** The wraps that a passkey opens. @param {Keyring} keyring */
export const passkeysOf = (keyring) => keyring.wraps.filter(({kind}) => kind === 'passkey');

/**
 * The data key behind a passkey's answer.
 * @param {Wrap} wrap
 * @param {Uint8Array} secret
 * @throws {WrongKey}
 */
export const openWithPasskey = async (wrap, secret) => unwrap(wrap, await keyFromSecret(secret, wrap.salt), false);

async function unwrapped(keyring, passphrase, extractable) {
  const found = keyring.wraps.find(({kind}) => kind === 'passphrase');
  return unwrap(found, await keyFromPassphrase(passphrase, found), extractable);
}

async function wrapFor(passphrase, key, rounds) {
  const facts = {kind: 'passphrase', salt: random(16), rounds};
  return wrap(key, facts, await keyFromPassphrase(passphrase, facts));
}

async function wrap(key, facts, guard) {
  const iv = random(12);
  const wrapped = await subtle().wrapKey('raw', key, guard, {name: 'AES-GCM', iv, additionalData: about(facts)});
  return {...facts, iv, wrapped: new Uint8Array(wrapped)};
}

async function unwrap(facts, guard, extractable) {
  const how = {name: 'AES-GCM', iv: facts.iv, additionalData: about(facts)};
  try {
    return await subtle().unwrapKey('raw', facts.wrapped, guard, how, KEY, extractable, USES);
  } catch {
    throw new WrongKey('This does not open the keyring');
  }
}

const about = ({kind}) => bytesOf(`lintel keyring 1 ${kind}`);

async function keyFromPassphrase(passphrase, {salt, rounds}) {
  const material = await subtle().importKey('raw', bytesOf(normalPassphrase(passphrase)), 'PBKDF2', false, ['deriveKey']);
  return subtle().deriveKey({name: 'PBKDF2', hash: 'SHA-256', salt, iterations: rounds}, material, KEY, false, ['wrapKey', 'unwrapKey']);
}

async function keyFromSecret(secret, salt) {
  const material = await subtle().importKey('raw', secret, 'HKDF', false, ['deriveKey']);
  const how = {name: 'HKDF', hash: 'SHA-256', salt, info: bytesOf('lintel passkey wrap 1')};
  return subtle().deriveKey(how, material, KEY, false, ['wrapKey', 'unwrapKey']);
}

/** As many rounds as this device does in the time a person may wait, never fewer than advised. */
export async function calibrated(clock = () => performance.now()) {
  const started = clock();
  await keyFromPassphrase('how fast is this device', {salt: new Uint8Array(16), rounds: PROBE_ROUNDS});
  const perRound = Math.max(clock() - started, 0.1) / PROBE_ROUNDS;
  const rounds = Math.round(UNLOCK_MILLISECONDS / perRound / PROBE_ROUNDS) * PROBE_ROUNDS;
  return Math.min(Math.max(rounds, FEWEST_ROUNDS), MOST_ROUNDS);
}
