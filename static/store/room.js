// How safe the phone's storage is: whether the browser promised to keep it, and how full it is.

/**
 * Asks the browser never to clear our storage by itself.
 * @returns {Promise<'granted'|'refused'|'unavailable'>}
 */
export async function requestPersistence(storage = globalThis.navigator?.storage) {
  if (!storage?.persist) return 'unavailable';
  const kept = (await storage.persisted?.()) || (await storage.persist());
  return kept ? 'granted' : 'refused';
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
