// The only module that touches IndexedDB. It keeps a person's entries on this phone, sealed, and
// never interprets them: what a card says is injected, what an answer means comes from the engine.
import {deleteDB} from 'idb';
import {uuid7} from '../sync/messages.js';
import {createCards} from './cards.js';
import {createChanges} from './changes.js';
import {START} from './cursor.js';
import {database} from './database.js';
import {knownPeople} from './device.js';
import {StoreError} from './errors.js';
import {detailsIn, inOrder} from './entries.js';
import {createKeys} from './keys.js';
import {entryOrNull, orIfDamaged, readable} from './readable.js';
import {receiptsFor} from './receipts.js';
import {applyReply, devicesOf, sendAgain, settle} from './reply.js';
import {RETURNING, isOthers} from './returning.js';
import {createSave} from './save.js';
import {DEVICE, SYNC, VERSION, upgrade} from './schema.js';
import {forgetKey, isUnlocked, open, seal} from './seal.js';

export {StoreError} from './errors.js';
export {NoPasskey, NotOpened, passkeysPossible, suggestPassphrase, whyUnfit} from './keys.js';
export {currentPerson, forgetCurrentPerson, knownPeople, rememberPerson} from './device.js';
export {requestPersistence, storageEstimate} from './room.js';
export {uuid7};

const LONGEST_REST = 48 * 60 * 60 * 1000;  // twice what is ever set: clocks differ by hours
const nameOf = (userId) => `lintel-${userId}`;
const placeOf = (store, id) => ({store, id});

/** The keyring of a person on this phone. @param {string} userId */
export const keysOf = (userId, options) => createKeys(nameOf(userId), options);

/** Lets go of the key: nothing can be read or saved until somebody unlocks. */
export const lockStores = forgetKey;

/**
 * Opens a person's store on this phone, which must be unlocked; makes it at the first call.
 * @param {string} userId
 * @param {object} [options]
 * @param {(entries: object[], client: string) => object} [options.project] a client's card from the entries
 * @param {string} [options.projectVersion] change it when cards made earlier no longer serve
 * @param {() => number} [options.now]
 * @param {number} [options.patience] milliseconds until an unanswered transaction fails
 */
export async function openStore(userId, {project = summary, projectVersion = '1', now = Date.now, patience} = {}) {
  if (!isUnlocked()) throw new StoreError('locked');
  const changes = createChanges(nameOf(userId));
  const db = database(nameOf(userId), {
    version: VERSION,
    upgrade,
    patience,
    onNewer: () => changes.tell({type: 'newer'}),
  });
  const device = await db.run(['meta'], 'readwrite', makeDevice, {durability: 'strict'});
  const cards = createCards(db, {project, projectVersion});
  await cards.adopt();
  return assemble({db, userId, now, first: device, cards, changes});
}

const summary = (entries, client) => ({client, entries: entries.length});

// The id and its counter are born and lost together, so a number can never be used twice.
async function makeDevice(tx) {
  const known = await tx.objectStore('meta').get(DEVICE);
  if (known) return known.value.id;
  const value = {id: uuid7(), seq: 0};
  await tx.objectStore('meta').put({key: DEVICE, value});
  return value.id;
}

function assemble({db, userId, now, first, cards, changes}) {
  let device = first;
  const save = createSave(db, {userId, now});
  const tell = (type, clients = []) => changes.tell({type, clients});

  async function saveMany(drafts, options) {
    const entries = await save(drafts, options);
    const clients = [...new Set(entries.map((entry) => entry.client))];
    cards.hurry(clients);
    tell('saved', clients);
    return entries;
  }

  return {
    userId,
    /** The id this device goes by, as far as this window has heard. */
    get device() {
      return device;
    },
    saveMany,
    save: async (draft, options) => (await saveMany([draft], options))[0],
    ...reading(db),
    ...outboxOf(db, tell),
    ...draftsOf(db, now),
    ...metaOf(db, tell),
    cards: cards.all,
    card: cards.one,
    refreshCards: () => cards.refresh().then((made) => tell('cards', made)),
    async applyReply(change) {
      const result = await applyReply(db, change);
      device = result.device;
      cards.follow(change.page);
      tell('synced', result.clients);
      return result;
    },
    subscribe: changes.subscribe,
    async close() {
      changes.close();
      await db.close();
    },
  };
}

function reading(db) {
  return {
    /** A client's entries as they were made (withdrawn ones left out), in order. */
    async entriesOf(client) {
      const rows = await db.run(['entries'], 'readonly', (tx) => tx.objectStore('entries').index('client').getAll(client));
      return readable(db, inOrder(rows.filter((row) => !row.withdrawn)));
    },
    /** One entry, or null when it is not here or does not open. */
    async entry(id) {
      const row = await db.run(['entries'], 'readonly', (tx) => tx.objectStore('entries').get(id));
      return row ? entryOrNull(row) : null;
    },
  };
}

function outboxOf(db, tell) {
  const marks = () => db.run(['outbox'], 'readonly', (tx) => tx.objectStore('outbox').getAll());
  const pairs = (wanted, {limit = Infinity, sorted = oldestFirst} = {}) => db.run(['outbox', 'entries'], 'readonly', async (tx) => {
    const found = (await tx.objectStore('outbox').getAll()).filter(wanted).sort(sorted);
    return Promise.all(found.slice(0, limit).map(async (mark) => ({mark, row: await tx.objectStore('entries').get(mark.id)})));
  });

  const shown = async ({mark, row}) => ({
    id: mark.id, client: mark.client, state: mark.state, at: mark.at, until: mark.until,
    ...await detailsIn(mark), entry: row ? await entryOrNull(row) : null,
  });

  return {
    /** Everything made here and not yet with the server: entry (null: it does not open), state (waiting, held, withdrawn), reason, age. */
    async outbox() {
      return Promise.all((await pairs((mark) => !isOthers(mark))).map(shown));
    },
    /** What others recorded and a restored log lost: state "returning" (to be handed back) or "aside" on the server. */
    async returning() {
      return Promise.all((await pairs(isOthers, {sorted: byId})).map(shown));
    },
    /** Of that the entries to hand back now; what waits for another one stands behind what was not tried. */
    async lost({limit = Infinity, without = new Set()} = {}) {
      const wanted = ({id, state}) => state === RETURNING && !without.has(id);
      const entries = await Promise.all((await pairs(wanted, {limit, sorted: untriedById}))
        .map(({row}) => row && entryOrNull(row)));
      return entries.filter(Boolean);
    },
    receiptsFor: (ids) => receiptsFor(db, ids),
    /** Entries to send now, oldest first; what could not be stored before stands behind what was not tried. */
    async unsent({now = Infinity, limit = Infinity, without = new Set()} = {}) {
      // A moment further off was set by a clock that ran ahead.
      const rests = ({until}) => until > now && until - now <= LONGEST_REST;
      const wanted = (mark) => mark.state === 'waiting' && !rests(mark) && !without.has(mark.id);
      const found = await pairs(wanted, {limit, sorted: untriedFirst});
      const entries = await Promise.all(found.filter(({row}) => row).map(({row}) => entryOrNull(row)));
      return entries.filter((entry) => entry !== null);
    },
    /** What needs attention, without the entries: since when, and the server's reason. */
    async held() {
      const held = (await marks()).filter(({state}) => state === 'held');
      return Promise.all(held.map(async (mark) => ({id: mark.id, at: mark.at, ...await detailsIn(mark)})));
    },
    /** Ids of all that is not yet with the server. */
    unsentIds: () => db.run(['outbox'], 'readonly', (tx) => tx.objectStore('outbox').getAllKeys()),
    /** Files verdicts that came without a page: the engine's own, such as "too large to send". */
    async settle(verdicts) {
      await settle(db, verdicts);
      tell('synced');
    },
    /** How many wait, how many need attention, since when the oldest waits (ISO time or null). */
    async counts() {
      return tally(await marks());
    },
    /** Puts a held entry back in the queue as it is. */
    async sendAgain(id) {
      await db.run(['outbox'], 'readwrite', (tx) => sendAgain(tx, id), {durability: 'strict'});
      tell('saved');
    },
  };
}

const byId = (a, b) => (a.id < b.id ? -1 : 1);
const untriedById = (a, b) => Number(a.sealed !== null) - Number(b.sealed !== null) || byId(a, b);
const oldestFirst = (a, b) => a.order - b.order;
const untriedFirst = (a, b) => Number(a.sealed !== null) - Number(b.sealed !== null) || oldestFirst(a, b);

function tally(marks) {
  const waiting = marks.filter((mark) => mark.state === 'waiting');
  const times = waiting.map((mark) => mark.at).filter(Number.isFinite);
  return {
    waiting: waiting.length,
    held: marks.filter((mark) => mark.state === 'held').length,
    oldest: times.length ? new Date(times.reduce((a, b) => Math.min(a, b))).toISOString() : null,
  };
}

function draftsOf(db, now) {
  return {
    /** Keeps unfinished input; quick rather than flushed, as it is written at every pause in typing. */
    async saveDraft(key, value) {
      const sealed = await seal(value, placeOf('drafts', key));
      await db.run(['drafts'], 'readwrite', (tx) => tx.objectStore('drafts').put({key, at: now(), sealed}));
    },
    /** The unfinished input under this key, or null. */
    async draft(key) {
      const row = await db.run(['drafts'], 'readonly', (tx) => tx.objectStore('drafts').get(key));
      return row ? open(row.sealed, placeOf('drafts', key)).catch(orIfDamaged(null)) : null;
    },
    /** Keys of all unfinished input. */
    draftKeys: () => db.run(['drafts'], 'readonly', (tx) => tx.objectStore('drafts').getAllKeys()),
    dropDraft: (key) => db.run(['drafts'], 'readwrite', (tx) => tx.objectStore('drafts').delete(key)),
  };
}

function metaOf(db, tell) {
  const row = (key) => db.run(['meta'], 'readonly', (tx) => tx.objectStore('meta').get(key));
  return {
    /** A fact kept under a name (session, settings, last sync ...), or null. */
    async meta(key) {
      const found = await row(`fact:${key}`);
      return found ? open(found.sealed, placeOf('meta', key)).catch(orIfDamaged(null)) : null;
    },
    async setMeta(key, value) {
      const sealed = await seal(value, placeOf('meta', key));
      await db.run(['meta'], 'readwrite', (tx) => tx.objectStore('meta').put({key: `fact:${key}`, sealed}));
      tell('meta');
    },
    /** Where this device stands with the server. */
    cursor: async () => (await row(SYNC))?.value ?? START,
    /** The number of the last entry made here. */
    lastDeviceSeq: async () => (await row(DEVICE)).value.seq,
    /** The id this device goes by, whichever window was told last, with its number. */
    async numbering() {
      const {id, seq} = (await row(DEVICE)).value;
      return {device: id, lastDeviceSeq: seq};
    },
    /** Every id this device went by. */
    devices: () => devicesOf(db),
  };
}

/**
 * Entries of other people on this phone that still wait to be sent. Only counted: they are theirs.
 * @param {string} userId who is signed in now
 * @returns {Promise<number>}
 */
export async function unsentOfOthers(userId) {
  const others = (await knownPeople()).filter((id) => id !== userId);
  const counted = await Promise.all(others.map(unsentOf));
  return counted.reduce((sum, count) => sum + count, 0);
}

/** How many entries of a person may be on this phone alone; needs no key. @param {string} userId */
export async function unsentOf(userId) {
  const db = database(nameOf(userId), {version: VERSION, upgrade});
  try {
    const marks = await db.run(['outbox'], 'readonly', (tx) => tx.objectStore('outbox').getAll());
    const {waiting, held} = tally(marks);
    return waiting + held + marks.filter(({state}) => state === RETURNING).length;
  } finally {
    await db.close();
  }
}

/**
 * Removes a person's database from this phone, unless something in it is nowhere else.
 * @param {string} userId
 */
export async function removePerson(userId) {
  if (await unsentOf(userId) > 0) throw new StoreError('unsent');
  await deleteDB(nameOf(userId));
}
