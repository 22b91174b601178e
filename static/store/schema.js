// The rooms of a person's database. Rows carry opaque ids and counters beside their sealed value.
//
//   entries  {id, client, seq: number|null, order: number|null, sealed}   order: device_seq when made here
//   outbox   {id, client, state: waiting|held|withdrawn, or of others' returning|aside, order, at, until: number|null, sealed: details|null}
//   drafts   {key, at, sealed}                                            key: "<client>/...", goes with the client
//   cards    {client, sealed: card|null}                                  null: not made yet
//   meta     {key, value} for counters and cursors, {key, ids, sealed} for receipts, {key, sealed} for the rest

// 2 holds the same rooms as 1: the step makes windows of an app that did not seal let go.
export const VERSION = 2;

/** Counters and cursors that a transaction must read without unsealing. */
// {id, seq: the number given last, former?: ids from before this device was told that there are two of it}
export const DEVICE = 'device';
export const SYNC = 'sync';
export const CARDS_MADE_BY = 'cards_made_by';
export const STALE = 'stale_cards';
/** The wraps of the data key; nothing in them opens without the passphrase or a passkey. */
export const KEYRING = 'keyring';
/** Set once nothing unsealed is left from an earlier version. */
export const SEALED_WITH = 'sealed_with';

/**
 * Brings a database of any earlier version to the present one; forward only, adds only.
 * @param {import('idb').IDBPDatabase} db
 * @param {number} from version found, 0 for a new one
 */
export function upgrade(db, from) {
  if (from < 1) {
    db.createObjectStore('entries', {keyPath: 'id'}).createIndex('client', 'client');
    db.createObjectStore('outbox', {keyPath: 'id'});
    db.createObjectStore('drafts', {keyPath: 'key'});
    db.createObjectStore('cards', {keyPath: 'client'});
    db.createObjectStore('meta', {keyPath: 'key'});
  }
}
