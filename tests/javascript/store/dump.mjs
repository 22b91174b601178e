// A whole database as JSON, and back: how the stores of earlier versions are kept for today's tests.

const asked = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** Everything in a database. Bytes of the first version, which did not seal, are shown as the JSON they hold. @param {string} name */
export async function dump(name) {
  const db = await asked(indexedDB.open(name));
  const stores = {};
  for (const store of db.objectStoreNames) {
    const room = db.transaction(store).objectStore(store);
    stores[store] = {
      keyPath: room.keyPath,
      indexes: Object.fromEntries([...room.indexNames].map((index) => [index, room.index(index).keyPath])),
      rows: (await asked(room.getAll())).map(plain),
    };
  }
  const {version} = db;
  db.close();
  return {version, stores};
}

/** Makes a database from a dump; nothing of the app's own code has a part in it. */
export async function load(name, {version, stores}) {
  const opening = indexedDB.open(name, version);
  opening.onupgradeneeded = () => {
    for (const [store, {keyPath, indexes, rows}] of Object.entries(stores)) {
      const room = opening.result.createObjectStore(store, {keyPath});
      for (const [index, path] of Object.entries(indexes)) room.createIndex(index, path);
      for (const row of rows) room.put(unplain(row));
    }
  };
  (await asked(opening)).close();
}

function plain(value) {
  if (value instanceof Uint8Array) return bytesAsText(value);
  if (value instanceof Map) return {$map: [...value]};
  if (Array.isArray(value)) return value.map(plain);
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, plain(inner)]));
}

function bytesAsText(bytes) {
  try {
    return {$json: JSON.parse(new TextDecoder('utf-8', {fatal: true}).decode(bytes))};
  } catch {
    return {$hex: [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('')};
  }
}

function unplain(value) {
  if (Array.isArray(value)) return value.map(unplain);
  if (value === null || typeof value !== 'object') return value;
  if ('$json' in value) return new TextEncoder().encode(JSON.stringify(value.$json));
  if ('$hex' in value) return Uint8Array.from(value.$hex.match(/../g), (pair) => Number.parseInt(pair, 16));
  if ('$map' in value) return new Map(value.$map);
  return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, unplain(inner)]));
}
