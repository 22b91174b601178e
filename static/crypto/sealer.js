// Values to sealed bytes and back, each bound to the place where it lies: a row moved elsewhere does not open.
// Layout: one byte for the format, 12 random bytes, then AES-256-GCM's output.

export const FORMAT = 1;
const IV_BYTES = 12;
const encoder = new TextEncoder();
const decoder = new TextDecoder('utf-8', {fatal: true});

/** Sealed bytes that do not open: changed, moved, or sealed with another key. */
export class Damaged extends Error {}

/**
 * @param {CryptoKey} key AES-256-GCM
 */
export function createSealer(key) {
  return {
    /**
     * @param {unknown} value anything JSON can hold
     * @param {{store: string, id: string}} place where the bytes will lie
     * @returns {Promise<Uint8Array>}
     */
    async seal(value, place) {
      const iv = crypto.getRandomValues(new Uint8Array(IV_BYTES));
      const sealed = await crypto.subtle.encrypt(settings(iv, place), key, encoder.encode(JSON.stringify(value)));
      const bytes = new Uint8Array(1 + IV_BYTES + sealed.byteLength);
      bytes[0] = FORMAT;
      bytes.set(iv, 1);
      bytes.set(new Uint8Array(sealed), 1 + IV_BYTES);
      return bytes;
    },

    /**
     * @param {Uint8Array} bytes
     * @param {{store: string, id: string}} place where the bytes were found
     * @returns {Promise<any>}
     * @throws {Damaged}
     */
    async open(bytes, place) {
      if (bytes[0] !== FORMAT) throw new Damaged('not a sealed value of a known format');
      const iv = bytes.subarray(1, 1 + IV_BYTES);
      const plain = await crypto.subtle.decrypt(settings(iv, place), key, bytes.subarray(1 + IV_BYTES))
        .catch(() => { throw new Damaged('sealed bytes do not open here'); });
      return JSON.parse(decoder.decode(plain));
    },
  };
}

const settings = (iv, {store, id}) => ({name: 'AES-GCM', iv, additionalData: encoder.encode(`lintel ${FORMAT} ${store} ${id}`)});
