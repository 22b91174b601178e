// The one place where values become bytes and bytes become values again. Every row's content
// passes through here with the place it belongs to, so that encryption bound to that place can
// arrive without any other file changing.

const encoder = new TextEncoder();
const decoder = new TextDecoder('utf-8', {fatal: true});

/**
 * @param {unknown} value anything JSON can hold
 * @param {{store: string, id: string}} place where the bytes will lie
 * @returns {Promise<Uint8Array>}
 */
export async function seal(value, place) {
  if (!place?.store || !place?.id) throw new TypeError('A sealed value belongs to a place');
  return encoder.encode(JSON.stringify(value));
}

/**
 * @param {Uint8Array} bytes
 * @param {{store: string, id: string}} place where the bytes were found
 * @returns {Promise<any>}
 */
export async function open(bytes, place) {
  if (!place?.store || !place?.id) throw new TypeError('A sealed value belongs to a place');
  return JSON.parse(decoder.decode(bytes));
}
