// Keeps this phone and the server in step. It has no final state: whatever happens, a later
// trigger tries again, and only an explicit verdict changes an entry's state.
import {delay} from './backoff.js';
import {createExchange} from './exchange.js';
import {underLock} from './lock.js';
import {createRun} from './run.js';
import {storageFailed} from './stopped.js';
import {createTriggers} from './triggers.js';

const UNSENT_EVERY = 60_000;
const IDLE_EVERY = 15 * 60_000;  // our choice: how stale a screen left open may become
const STUCK_AFTER = 120_000;
const PERSONS_TURN = ['sign_in', 'update'];  // no timer helps here; triggers still try
const CLOCK = {setTimeout: (...all) => setTimeout(...all), clearTimeout: (id) => clearTimeout(id)};

/**
 * @typedef {object} Status
 * @property {'idle'|'syncing'|'offline'|'sign_in'|'error'|'update'} phase
 * @property {string|null} lastSyncedAt ISO time of the last run that came to its end
 * @property {number} waiting
 * @property {number} held
 * @property {string|null} oldest since when the oldest entry waits
 * @property {boolean} revoked the service has withdrawn this device
 * @property {string|null} message a plain sentence, when there is something to say
 * @property {{share: number, clients: number}|null} progress how far a record of several pages has come
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
export function createEngine(parts) {
  return new Engine({
    fetch: globalThis.fetch.bind(globalThis),
    now: Date.now,
    random: Math.random,
    locks: globalThis.navigator?.locks ?? null,
    timers: CLOCK,
    page: {window: globalThis.window ?? null, document: globalThis.document ?? null},
    build: /app-(\w+)\.js/.exec(import.meta.url)?.[1] ?? 'unbuilt',
    deviceName: nameOfDevice(globalThis.navigator?.userAgent ?? ''),
    ...parts,
  });
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

const nameOfDevice = (agent) => ['iPhone', 'iPad', 'Android', 'Windows', 'Mac', 'Linux']
  .find((name) => agent.includes(name)) ?? 'Device';

class Engine {
  #parts;
  #run;
  #triggers;
  #listeners = new Set();
  #status = {phase: 'idle', lastSyncedAt: null, waiting: 0, held: 0, oldest: null, revoked: false, message: null, progress: null, retryAt: null};
  #started = false;
  #failures = 0;
  #notBefore = 0;  // the server asked to be left alone until then
  #timer = null;
  #current = null;  // the run under way: {beatAt, promise}
  #wanted = false;  // something was saved while a run was under way

  constructor(parts) {
    this.#parts = parts;
    this.#run = createRun({...parts, exchange: createExchange(parts)});
    this.#triggers = createTriggers({
      ...parts,
      wake: (cause) => this.#wake(cause),
      onHidden: () => this.#run.forgetToken(),
      onCounts: () => this.#showStored(),
    });
  }

  /** Shows where things stood when the app was last open, before anything is asked of the server. */
  async recall() {
    this.#show({lastSyncedAt: await this.#parts.store.meta('last_synced_at')});
    await this.#showStored();
  }

  /** Begins to keep in step by itself; resolves after the first run. */
  async start() {
    this.#started = true;
    await this.recall();
    this.#triggers.attach();
    return this.#wake('start');
  }

  /** Ends that; a run under way comes to its end. */
  stop() {
    this.#started = false;
    this.#triggers.detach();
    this.#plan(null);
  }

  /** Syncs now and resolves with the status afterwards. @returns {Promise<Status>} */
  async syncNow() {
    await this.#wake('tap');
    return this.#status;
  }

  /** @returns {Status} */
  status() {
    return this.#status;
  }

  /** Learns who is signed in and the settings; resolves with what is known afterwards, also offline. */
  async refreshSession() {
    await this.#run.learnSession();
    return this.#parts.store.meta('session');
  }

  /** @param {(status: Status) => void} listener @returns {() => void} stops listening */
  subscribe(listener) {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  #show(change) {
    this.#status = {...this.#status, ...change};
    for (const listener of this.#listeners) listener(this.#status);
  }

  async #showStored() {
    const {store} = this.#parts;
    try {
      this.#show({...await store.counts(), revoked: await store.meta('device_state') === 'revoked'});
    } catch {
      // The storage's failures show at a save.
    }
  }

  /** One cause to sync. A person's tap goes first; the rest keep to what the server asked for. */
  async #wake(cause) {
    if (!this.#started && cause !== 'tap') return;
    if (!['save', 'timer'].includes(cause)) this.#failures = 0;
    if (this.#isRunning()) {
      this.#wanted ||= cause === 'save' || cause === 'tap';
      if (cause === 'timer') this.#watch();
      await this.#current.promise;
    } else if (!this.#mustWait(cause)) {
      this.#plan(null);
      await this.#begin();
    }
  }

  #isRunning() {
    return this.#current !== null && this.#parts.now() - this.#current.beatAt < STUCK_AFTER;
  }

  #mustWait(cause) {
    const trouble = this.#failures > 0 || PERSONS_TURN.includes(this.#status.phase);
    return (cause === 'save' && trouble) || (cause !== 'tap' && this.#parts.now() < this.#notBefore);
  }

  #begin() {
    const mine = {beatAt: this.#parts.now()};
    this.#wanted = false;
    this.#current = mine;
    this.#watch();
    mine.promise = this.#runOnce(mine).then(async (result) => {
      if (this.#current !== mine) return;  // given up as stuck; another run speaks now
      await this.#conclude(result);
    });
    return mine.promise;
  }

  async #runOnce(mine) {
    const {store, now} = this.#parts;
    const beat = (progress) => {
      mine.beatAt = now();
      if (progress !== undefined) this.#show({progress});
    };
    this.#show({phase: 'syncing', message: null, progress: null});
    try {
      return await underLock({...this.#parts, name: `lintel-sync-${store.userId}`}, () => this.#run.once(beat));
    } catch (failure) {
      return storageFailed(failure);
    }
  }

  async #conclude(result) {
    this.#failures = result.phase === 'idle' ? 0 : this.#failures + 1;
    this.#notBefore = result.askedSeconds ? this.#parts.now() + result.askedSeconds * 1000 : 0;
    await this.#showStored();
    this.#current = null;
    this.#show({phase: result.phase, message: result.message ?? null, ...(result.at && {lastSyncedAt: result.at})});
    this.#plan(this.#nextTry(result));
  }

  #nextTry({phase, askedSeconds = null}) {
    if (PERSONS_TURN.includes(phase)) return null;
    if (phase !== 'idle') return delay(this.#failures, {random: this.#parts.random(), askedSeconds});
    if (this.#wanted) return 0;
    if (this.#parts.page.document?.visibilityState === 'hidden') return null;
    return this.#status.waiting ? UNSENT_EVERY : IDLE_EVERY;
  }

  #plan(milliseconds) {
    const due = this.#started && milliseconds !== null;
    this.#setTimer(due ? milliseconds : null);
    this.#show({retryAt: due ? this.#parts.now() + milliseconds : null});
  }

  // A run whose page was frozen, or that waits for something that never comes, is given up.
  #watch() {
    this.#setTimer(this.#started ? STUCK_AFTER : null);
  }

  #setTimer(milliseconds) {
    const {timers} = this.#parts;
    timers.clearTimeout(this.#timer);
    this.#timer = milliseconds === null ? null : timers.setTimeout(() => this.#wake('timer'), milliseconds);
  }
}
