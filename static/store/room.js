// How safe the phone's storage is: whether the browser promised to keep it, and how full it is.

/**
 * Asks the browser never to clear our storage by itself. Some browsers hand the question on to the person, and
 * their answer may never come: after a moment it counts as asked.
 * @returns {Promise<'granted'|'refused'|'unavailable'|'asked'>}
 */
export async function requestPersistence(storage = globalThis.navigator?.storage, patience = 1000) {
  if (!storage?.persist) return 'unavailable';
  if (await storage.persisted?.()) return 'granted';
  const answered = storage.persist().then((kept) => (kept ? 'granted' : 'refused'));
  let waiting;
  const asked = new Promise((resolve) => { waiting = setTimeout(resolve, patience, 'asked'); });
  return Promise.race([answered, asked]).finally(() => clearTimeout(waiting));
}

/**
 * Used and available bytes as the browser tells them (padded on purpose), or null.
 * @returns {Promise<{usage: number, quota: number, nearlyFull: boolean}|null>}
 */
export async function storageEstimate(storage = globalThis.navigator?.storage) {
  if (!storage?.estimate) return null;
  const {usage = 0, quota = 0} = await storage.estimate();
  return {usage, quota, nearlyFull: quota > 0 && usage * 5 >= quota * 4};  // four fifths: our choice
}
