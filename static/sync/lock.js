// One window at a time, to save work; safety rests on the server's receipts. A window that froze
// with the lock in hand is not waited for longer than ten seconds.

const PATIENCE = 10_000;

/**
 * @param {{locks: LockManager|null, timers: {setTimeout: Function, clearTimeout: Function}, name: string}} parts
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 * @template T
 */
export async function underLock({locks, timers, name}, work) {
  if (!locks) return work();
  const patience = new AbortController();
  const timer = timers.setTimeout(() => patience.abort(), PATIENCE);
  let granted = false;
  try {
    return await locks.request(name, {signal: patience.signal}, () => {
      granted = true;
      timers.clearTimeout(timer);
      return work();
    });
  } catch (failure) {
    if (granted) throw failure;
    return await work();  // not granted in time, or locks do not work here
  } finally {
    timers.clearTimeout(timer);
  }
}
