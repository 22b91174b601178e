// The power of a phone: it fails before or after any single thing that is done to its database, and before any
// request leaves. What a transaction had not committed is gone then, and nothing more is done.

const {IDBDatabase, IDBObjectStore} = globalThis;
const DONE_TO_A_ROOM = ['add', 'put', 'delete', 'get', 'getAll', 'getAllKeys', 'openCursor'];

/** The phone went off. */
export class PowerCut extends Error {}

let phone = null;
let cut = null;
let failed = false;
const open = new Set();

/** The phone whose steps count from now on. @param {{off: number|null}|null} front */
export function arm(front) {
  phone = front;
  cut = null;
  open.clear();
}

/** Whether the power of any phone ever failed. */
export const hasFailed = () => failed;

/** Runs a command until it is done or the power fails. @template T @param {() => Promise<T>} work @returns {Promise<T>} */
export function guard(work) {
  return new Promise((resolve, reject) => {
    if (phone) phone.ends = reject;
    work().then(resolve, reject);
  });
}

/** One step: here the power may fail. @param {string} name */
export function step(name) {
  if (cut) throw cut;
  if (!phone || phone.off === null || phone.off === undefined) return;
  phone.off -= 1;
  if (phone.off >= 0) return;
  phone.off = null;
  cut = new PowerCut(name);
  failed = true;
  for (const transaction of open) abort(transaction);
  phone.ends(cut);
  throw cut;
}

function abort(transaction) {
  try {
    transaction.abort();
  } catch {
    // Committed already: that stays.
  }
}

for (const name of DONE_TO_A_ROOM) {
  const original = IDBObjectStore.prototype[name];
  IDBObjectStore.prototype[name] = function counted(...given) {
    step(['add', 'put', 'delete'].includes(name) ? 'inside a transaction' : 'while it reads');
    return original.apply(this, given);
  };
}

const begin = IDBDatabase.prototype.transaction;
IDBDatabase.prototype.transaction = function counted(rooms, mode = 'readonly', ...rest) {
  step(mode === 'readwrite' ? 'before a transaction' : 'while it reads');
  const transaction = begin.call(this, rooms, mode, ...rest);
  open.add(transaction);
  transaction.addEventListener('complete', () => {
    open.delete(transaction);
    if (mode !== 'readwrite') return;
    try {
      step('after a transaction');
    } catch (failure) {
      if (!(failure instanceof PowerCut)) throw failure;
    }
  });
  return transaction;
};
