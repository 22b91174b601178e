// Which entries travel together. Pure.

const utf8 = new TextEncoder();
const bytesOf = (entry) => utf8.encode(JSON.stringify(entry)).length + 1;

/**
 * The first entries to send: whole visits while they fit, so that nobody reads half a visit. Only a
 * visit that is alone too large is split.
 * @param {object[]} entries oldest first
 * @param {{items: number, bytes: number}} limit
 * @returns {object[]}
 */
export function nextBatch(entries, {items, bytes}) {
  const batch = [];
  let left = bytes;
  for (const group of groups(entries)) {
    const size = group.reduce((sum, entry) => sum + bytesOf(entry), 0);
    if (batch.length + group.length <= items && size <= left) {
      batch.push(...group);
      left -= size;
    } else {
      return batch.length ? batch : fitting(group, {items, bytes});
    }
  }
  return batch;
}

// An entry of no visit stands alone; a visit's entries stand where its first one does.
function groups(entries) {
  const found = new Map();
  for (const entry of entries) {
    const key = entry.visit ?? entry.id;
    if (!found.has(key)) found.set(key, []);
    found.get(key).push(entry);
  }
  return [...found.values()];
}

// At least one travels, however large: the server says what is too large for it.
function fitting(group, {items, bytes}) {
  let left = bytes;
  const batch = [];
  for (const entry of group) {
    left -= bytesOf(entry);
    if (batch.length && (batch.length >= items || left < 0)) break;
    batch.push(entry);
  }
  return batch;
}
