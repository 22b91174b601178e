// The one place where values become sealed bytes and bytes become values again. It works only while this
// window holds the key of the person whose store is open; locking lets go of it, and nothing can be read.
import {Damaged, createSealer} from '../crypto/sealer.js';
import {StoreError} from './errors.js';

export {Damaged};

let sealer = null;

/** Everything sealed from now on, and everything opened, is under this key. @param {CryptoKey} key */
export function holdKey(key) {
  sealer = createSealer(key);
}

export function forgetKey() {
  sealer = null;
}

export const isUnlocked = () => sealer !== null;

/**
 * @param {unknown} value anything JSON can hold
 * @param {{store: string, id: string}} place where the bytes will lie
 * @returns {Promise<Uint8Array>}
 */
export async function seal(value, place) {
  return current().seal(value, checked(place));
}

/**
 * @param {Uint8Array} bytes
 * @param {{store: string, id: string}} place where the bytes were found
 * @returns {Promise<any>}
 * @throws {Damaged} when the bytes were changed, moved or sealed with another key
 */
export async function open(bytes, place) {
  return current().open(bytes, checked(place));
}

function current() {
  if (!sealer) throw new StoreError('locked');
  return sealer;
}

function checked(place) {
  if (!place?.store || !place?.id) throw new TypeError('A sealed value belongs to a place');
  return place;
}
