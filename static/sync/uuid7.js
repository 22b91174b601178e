// UUIDs that sort by the moment they were made (version 7). Mirrors sync/uuid7.py.

const RANDOM_BYTES = 10;

/**
 * A new id. The random bytes are an argument for the sake of the vectors only.
 * @param {number} [milliseconds] since 1970
 * @param {Uint8Array} [random] ten bytes
 * @returns {string}
 */
export function uuid7(milliseconds = Date.now(), random = crypto.getRandomValues(new Uint8Array(RANDOM_BYTES))) {
  if (random.length !== RANDOM_BYTES || !(milliseconds >= 0 && milliseconds < 2 ** 48)) {
    throw new RangeError('a UUID needs 48 bits of milliseconds and ten random bytes');
  }
  const bytes = new Uint8Array(16);
  const view = new DataView(bytes.buffer);
  view.setUint16(0, Math.floor(milliseconds / 2 ** 32));
  view.setUint32(2, Math.floor(milliseconds) % 2 ** 32);
  bytes.set(random, 6);
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

/** The moment a version 7 UUID was made, by its maker's clock. */
export const millisecondsOf = (uuid) => Number.parseInt(uuid.replaceAll('-', '').slice(0, 12), 16);
