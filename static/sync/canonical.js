// Canonical JSON and the hash of an entry: the same bytes in Python and in the browser.
// Mirrors sync/canonical.py.

const MAX_DEPTH = 24;
const SERVER_KEYS = new Set(['seq', 'received_at']);

/** A value that has no single form in both languages; `code` and `field` say what and where. */
export class CanonicalError extends Error {
  constructor(code, message, field) {
    super(message);
    this.name = 'CanonicalError';
    this.code = code;
    this.field = field || null;
  }
}

/**
 * The canonical text of a value: keys sorted, no spaces, characters unescaped, no fractions.
 * @param {unknown} value
 * @returns {string}
 */
export function canonical(value) {
  return write(value, '', 0);
}

/**
 * SHA-256 (hex) of an entry's canonical text, without what the server adds.
 * @param {object} entry
 * @returns {Promise<string>}
 */
export async function entryHash(entry) {
  const own = Object.fromEntries(Object.entries(entry).filter(([key]) => !SERVER_KEYS.has(key)));
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(canonical(own)));
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

function write(value, path, depth) {
  if (depth > MAX_DEPTH) {
    throw new CanonicalError('too_deep', 'This is nested too deeply. Record it again.', path);
  }
  if (value === null || typeof value === 'boolean') return String(value);
  if (typeof value === 'string') return text(value, path);
  if (Array.isArray(value)) return `[${value.map((inner, i) => write(inner, join(path, i), depth + 1)).join(',')}]`;
  if (isPlainObject(value)) return object(value, path, depth);
  return number(value, path);
}

function text(value, path) {
  if (value.includes('\0') || !value.isWellFormed()) {
    const message = 'This text holds a character that cannot be stored. Delete the odd character and save again.';
    throw new CanonicalError('bad_text', message, path);
  }
  return JSON.stringify(value);
}

function object(value, path, depth) {
  const pairs = Object.keys(value).sort().map((key) => {
    checkKey(key, path);
    return `${JSON.stringify(key)}:${write(value[key], join(path, key), depth + 1)}`;
  });
  return `{${pairs.join(',')}}`;
}

// Python sorts by code point and JavaScript by UTF-16 unit: beyond ASCII they can differ.
function checkKey(key, path) {
  if (!/^[\x01-\x7f]*$/.test(key)) {
    throw new CanonicalError('bad_key', 'A field name may hold plain ASCII letters only.', path);
  }
}

function number(value, path) {
  if (!Number.isSafeInteger(value)) {
    const message = 'A number must be a whole number, or a decimal written as text such as "36.8".';
    throw new CanonicalError('not_exact', message, path);
  }
  return String(value);
}

const isPlainObject = (value) => typeof value === 'object'
  && [Object.prototype, null].includes(Object.getPrototypeOf(value));

const join = (path, name) => (path ? `${path}.${name}` : String(name));
