// Bytes as text that needs no escaping anywhere (RFC 4648, section 5, without padding).

/** @param {Uint8Array|ArrayBuffer} bytes @returns {string} */
export const base64url = (bytes) => btoa(String.fromCharCode(...new Uint8Array(bytes)))
  .replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '');

/** @param {string} text @returns {Uint8Array} */
export const fromBase64url = (text) => Uint8Array.from(atob(text.replaceAll('-', '+').replaceAll('_', '/')), (letter) => letter.charCodeAt(0));
