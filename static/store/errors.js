// Why a save did not happen, in a code for programs and a sentence for people.

const SENTENCES = {
  quota: 'This phone has no room left. Nothing was lost: free some space and save again.',
  blocked: 'Lintel is open in another window with a different version. Close the other windows and try again.',
  newer: 'The app in this window is older than the records on this phone, so it cannot save into them. Nothing saved is lost: note what you typed, go online, close every window of Lintel and open it again.',
  lost: 'The phone closed its storage for a moment. Your input is still here: save again.',
  timeout: 'The phone did not confirm the save in time. Your input is still here: save again.',
  locked: 'Lintel is locked. Your input is still here: unlock it and save again.',
  unsent: 'Entries on this phone have not reached the server. Nothing was removed.',
  unknown: 'The save did not work. Your input is still here: save again.',
};

/** @typedef {'quota'|'blocked'|'newer'|'lost'|'timeout'|'locked'|'unsent'|'unknown'} StoreErrorCode */

/** A failure of the phone's storage; `code` says which, `message` is fit to be shown. */
export class StoreError extends Error {
  /** @param {StoreErrorCode} code @param {unknown} [cause] */
  constructor(code, cause) {
    super(SENTENCES[code], {cause});
    this.name = 'StoreError';
    this.code = code;
  }
}

const LOST = /connection|server lost|database server|closing|closed|terminated/i;

/**
 * Any failure of IndexedDB as a StoreError.
 * @param {unknown} cause
 * @returns {StoreError}
 */
export function asStoreError(cause) {
  if (cause instanceof StoreError) return cause;
  return new StoreError(codeOf(cause), cause);
}

function codeOf(cause) {
  const name = cause?.name ?? '';
  if (name === 'QuotaExceededError') return 'quota';
  if (name === 'VersionError') return 'newer';
  if (name === 'InvalidStateError') return 'lost';
  if (LOST.test(cause?.message ?? '') && ['UnknownError', 'AbortError'].includes(name)) return 'lost';
  return 'unknown';
}
