// One IndexedDB database: opened, kept open, opened again after the browser dropped it, and
// transactions that always settle. Knows nothing of what the rows mean.
import {openDB} from 'idb';
import {StoreError, asStoreError} from './errors.js';

const PATIENCE = 5000;

/**
 * @typedef {object} DatabaseOptions
 * @property {number} version
 * @property {(db: import('idb').IDBPDatabase, from: number) => void} upgrade
 * @property {() => void} [onNewer] what is stored is of a newer version than this window: it reads and saves nothing more
 * @property {number} [patience] milliseconds until a transaction counts as unanswered
 */

/**
 * @param {string} name
 * @param {DatabaseOptions} options
 * @returns {{run: Function, close: () => Promise<void>, name: string}}
 */
export function database(name, {version, upgrade, onNewer, patience = PATIENCE}) {
  let connection = null;
  let closed = false;

  const drop = () => { connection = null; };

  function connect() {
    if (closed) throw new StoreError('blocked');
    connection ??= openInTime().catch((failure) => {
      drop();
      const known = asStoreError(failure);
      if (known.code === 'newer') onNewer?.();
      throw known;
    });
    return connection;
  }

  function openInTime() {
    const opening = openDB(name, version, {
      upgrade,
      blocking: (_current, wanted, event) => letGo(event.target, wanted),
      terminated: drop,
    });
    return withDeadline(opening, patience, 'blocked').catch((failure) => {
      opening.then((late) => late.close(), () => {});  // a forgotten connection would block an update
      throw failure;
    });
  }

  // Whether the other window got its newer version this one learns at once, before somebody types on.
  function letGo(db, wanted) {
    db.close();
    drop();
    if (wanted !== null && !closed) connect().catch(() => {});
  }

  async function attempt(stores, mode, work, durability) {
    const db = await connect();
    const transaction = db.transaction(stores, mode, {durability});
    return settle(transaction, work, patience);
  }

  /** Runs work(transaction); resolves with its result only once the transaction is complete. */
  async function run(stores, mode, work, {durability = 'relaxed'} = {}) {
    try {
      return await attempt(stores, mode, work, durability);
    } catch (failure) {
      if (asStoreError(failure).code !== 'lost' || failure instanceof TypeError) throw asOurs(failure);
      drop();  // once: a phone that woke up hands out a fresh connection
      return attempt(stores, mode, work, durability).catch((again) => { throw asOurs(again); });
    }
  }

  async function close() {
    closed = true;
    const open = connection;
    drop();
    if (open) await open.then((db) => db.close(), () => {});
  }

  return {run, close, name};
}

// Errors that the work itself threw on purpose pass through; the browser's become StoreErrors.
const asOurs = (failure) => (failure instanceof DOMException ? asStoreError(failure) : failure);

function settle(transaction, work, patience) {
  const working = (async () => work(transaction))();
  const both = Promise.all([working, transaction.done]).then(([result]) => result);
  transaction.done.catch(() => {});
  return withDeadline(both, patience, 'timeout').catch((failure) => {
    abort(transaction);
    throw failure;
  });
}

function abort(transaction) {
  try {
    transaction.abort();
  } catch {
    // It has ended already; then there is nothing to take back.
  }
}

function withDeadline(promise, patience, code) {
  let timer;
  const late = new Promise((_resolve, reject) => {
    timer = setTimeout(() => reject(new StoreError(code)), patience);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
}
