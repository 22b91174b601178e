// Keeps this phone and the server in step. It has no final state: whatever happens, a later
// trigger tries again, and only an explicit verdict changes an entry's state.
import {delay} from './backoff.js';
import {createExchange} from './exchange.js';
import {createRun} from './run.js';
import {createTriggers} from './triggers.js';

const UNSENT_EVERY = 60_000;
const IDLE_EVERY = 15 * 60_000;  // our choice: how stale a screen left open may become
const STUCK_AFTER = 120_000;
const LOCK_PATIENCE = 10_000;
const CLOCK = {setTimeout: (...all) => setTimeout(...all), clearTimeout: (id) => clearTimeout(id)};

/**
 * @typedef {object} Status
 * @property {'idle'|'syncing'|'offline'|'sign_in'|'error'|'update'} phase
 * @property {string|null} lastSyncedAt ISO time of the last whole answer
 * @property {number} waiting
 * @property {number} held
 * @property {string|null} oldest since when the oldest entry waits
 * @property {string|null} message a plain sentence, when there is something to say
 * @property {number|null} retryAt when the next try is due, milliseconds since 1970
 */

/**
 * @param {object} parts
 * @param {object} parts.store an open store
 * @param {typeof fetch} [parts.fetch]
 * @param {() => number} [parts.now]
 * @param {() => number} [parts.random]
 * @param {LockManager|null} [parts.locks]
 * @param {{setTimeout: Function, clearTimeout: Function}} [parts.timers]
 * @param {{window: EventTarget|null, document: (EventTarget & {visibilityState: string})|null}} [parts.page]
 * @param {string} [parts.build] what this app calls itself
 * @param {string} [parts.deviceName]
 */
export function createEngine({
  store,
  fetch = globalThis.fetch.bind(globalThis),
  now = Date.now,
  random = Math.random,
  locks = globalThis.navigator?.locks ?? null,
  timers = CLOCK,
  page = {window: globalThis.window ?? null, document: globalThis.document ?? null},
  build = buildName(import.meta.url),
  deviceName = nameOfDevice(globalThis.navigator),
}) {
  const listeners = new Set();
  const run = createRun({store, exchange: createExchange({fetch, now, timers}), now, build, deviceName});
  let status = {phase: 'idle', lastSyncedAt: null, waiting: 0, held: 0, oldest: null, message: null, retryAt: null};
  let failures = 0;
  let notBefore = 0;
  let timer = null;
  let current = null;
  let wanted = false;
  let started = false;

  function show(change) {
    status = {...status, ...change};
    for (const listener of listeners) listener(status);
  }

  const showCounts = async () => show(await store.counts());
  const visible = () => page.document?.visibilityState !== 'hidden';

  function plan(milliseconds) {
    timers.clearTimeout(timer);
    timer = null;
    if (!started || milliseconds === null) return show({retryAt: null});
    timer = timers.setTimeout(() => wake('timer'), milliseconds);
    return show({retryAt: now() + milliseconds});
  }

  // `result` is what run.once() came to: done, or why not.
  async function conclude(result) {
    failures = result.phase === 'idle' ? 0 : failures + 1;
    notBefore = result.askedSeconds ? now() + result.askedSeconds * 1000 : 0;
    await showCounts().catch(() => {});
    show({phase: result.phase, message: result.message ?? null, ...(result.at && {lastSyncedAt: result.at})});
    plan(nextTry(result));
  }

  function nextTry({phase, askedSeconds = null}) {
    if (phase === 'sign_in' || phase === 'update') return null;  // a person's turn; triggers still wake it
    if (phase !== 'idle') return delay(failures, {random: random(), askedSeconds});
    if (wanted) return 0;
    if (!visible()) return null;
    return status.waiting ? UNSENT_EVERY : IDLE_EVERY;
  }

  async function runOnce(beat) {
    show({phase: 'syncing', message: null});
    try {
      return await underLock({locks, timers, name: `lintel-sync-${store.userId}`}, () => run.once(beat));
    } catch (failure) {
      // The phone's own storage failed; nothing was lost, the cursor has not moved.
      return {phase: 'error', message: failure?.message ?? null};
    }
  }

  async function begin() {
    wanted = false;
    const mine = {beatAt: now()};
    current = mine;
    watch();
    mine.promise = runOnce(() => { mine.beatAt = now(); }).then(async (result) => {
      if (current !== mine) return;  // given up as stuck; another run speaks now
      current = null;
      await conclude(result);
    });
    return mine.promise;
  }

  // A run whose page was frozen, or that waits for something that never comes, is given up.
  function watch() {
    timers.clearTimeout(timer);
    timer = started ? timers.setTimeout(() => wake('timer'), STUCK_AFTER) : null;
  }

  const running = () => current && now() - current.beatAt < STUCK_AFTER;
  const held = (cause) => (cause === 'save' && (failures > 0 || ['sign_in', 'update'].includes(status.phase)))
    || (cause !== 'tap' && now() < notBefore);

  /** One cause to sync. A person's tap goes first; the rest keep to what the server asked for. */
  function wake(cause) {
    if (!started && cause !== 'tap') return Promise.resolve();
    if (cause !== 'save' && cause !== 'timer') failures = 0;
    if (running()) {
      wanted ||= cause === 'save' || cause === 'tap';
      if (cause === 'timer') watch();
      return current.promise;
    }
    if (held(cause)) return Promise.resolve();
    plan(null);
    return begin();
  }

  const triggers = createTriggers({store, page, timers, wake, onCounts: () => showCounts().catch(() => {})});

  return {
    async start() {
      started = true;
      const lastSyncedAt = await store.meta('last_synced_at');
      show({lastSyncedAt, ...await store.counts()});
      triggers.attach();
      return wake('start');
    },
    stop() {
      started = false;
      triggers.detach();
      plan(null);
    },
    /** Syncs now and resolves with the status afterwards. */
    async syncNow() {
      await wake('tap');
      return status;
    },
    status: () => status,
    /** Learns who is signed in and the settings; resolves with what is known afterwards, also offline. */
    async refreshSession() {
      await run.learnSession();
      return store.meta('session');
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
  };
}

/**
 * Asks the server who is signed in, before any store is open.
 * @param {{fetch?: typeof fetch}} [tools]
 * @returns {Promise<{signedIn: boolean|null, session: object|null}>} null: the server cannot be reached
 */
export async function askSession({fetch = globalThis.fetch.bind(globalThis)} = {}) {
  const outcome = await createExchange({fetch, now: Date.now, timers: CLOCK}).session();
  if (outcome.kind === 'answer') return {signedIn: true, session: outcome.answer};
  return {signedIn: outcome.kind === 'sign_in' ? false : null, session: null};
}

// One window at a time, to save work; safety rests on the server's receipts. A window that froze
// with the lock in hand is not waited for longer than ten seconds.
async function underLock({locks, timers, name}, work) {
  if (!locks) return work();
  const got = await ifFree(locks, name, work);
  if (got) return got.result;
  await new Promise((resolve) => { timers.setTimeout(resolve, LOCK_PATIENCE); });
  const second = await ifFree(locks, name, work);
  return second ? second.result : work();
}

const ifFree = (locks, name, work) => locks.request(name, {ifAvailable: true},
  async (lock) => (lock ? {result: await work()} : null));

const buildName = (url) => /app-(\w+)\.js/.exec(url)?.[1] ?? 'unbuilt';

function nameOfDevice(navigator) {
  const agent = navigator?.userAgent ?? '';
  const system = ['iPhone', 'iPad', 'Android', 'Windows', 'Mac', 'Linux'].find((name) => agent.includes(name));
  return system ?? 'Device';
}
