// How a request that brought no answer ends a run, and what is said about it.

export const SENTENCES = {
  offline: 'No connection to the server. Everything is saved on this phone and will be sent later.',
  sign_in: 'Sign in to send and receive. Everything is saved on this phone.',
  someone_else: 'Someone else is signed in. Your entries stay on this phone until you sign in again.',
  busy: 'The server cannot answer just now. Everything is saved on this phone; Lintel tries again by itself.',
  update: 'Lintel needs its new version to send and receive. Everything is saved on this phone.',
  too_large: 'This entry is too large to be sent. Record it again with less text.',
  not_taken: 'The server could not take this entry. Lintel offers it again tomorrow.',
};

// The phone's own storage failed, by the failure's code; the cursor has not moved.
const STORAGE = {
  quota: 'This phone has no room left for what the server sends. Nothing was lost: free some space, then sync again.',
  blocked: 'Lintel is open in another window with a different version. Nothing was lost: close the other windows.',
};
const NEWER = 'The app in this window is older than the records on this phone. Nothing was lost: go online, close every window of Lintel and open it again, so that it updates.';
const NO_ANSWER = 'The phone’s storage did not answer. Nothing was lost; Lintel tries again by itself.';

/**
 * @typedef {object} Result
 * @property {'idle'|'offline'|'sign_in'|'error'|'update'} phase
 * @property {string|null} [message]
 * @property {number|null} [askedSeconds] how long the server asked to wait
 * @property {string} [at] when the whole run was done
 */

/** @param {{code?: string}|null|undefined} failure of the store @returns {Result} */
export function storageFailed(failure) {
  if (failure?.code === 'newer') return {phase: 'update', message: NEWER};
  return {phase: 'error', message: STORAGE[failure?.code] ?? NO_ANSWER};
}

/**
 * @param {import('./exchange.js').Outcome} outcome
 * @returns {Result}
 */
export function stopped({kind, message = null, askedSeconds = null}) {
  if (kind === 'sign_in') return {phase: 'sign_in', message: SENTENCES.sign_in};
  if (kind === 'someone_else') return {phase: 'sign_in', message: SENTENCES.someone_else};
  if (kind === 'update') return {phase: 'update', message: SENTENCES.update};
  if (kind === 'unreachable' || kind === 'timeout') return {phase: 'offline', message: SENTENCES.offline, askedSeconds};
  return {phase: 'error', message: message ?? SENTENCES.busy, askedSeconds};
}
