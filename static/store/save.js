// Saving entries: sealed first, then one transaction flushed to disk over the entries, their
// places in the outbox, the device counter and the marks on the cards.
import {StoreError} from './errors.js';
import {entryIn, entryRow, makeEntry, outboxRow, sameContent} from './entries.js';
import {DEVICE} from './schema.js';
import {markStale} from './stale.js';

const TRIES = 40;
const LONGEST_PAUSE = 50;
const STORES = ['entries', 'outbox', 'cards', 'meta'];

/** Another window took the next number, or a new id for the device, between our reading it and our saving. */
class NumberTaken extends Error {}

/**
 * @param {{run: Function}} db
 * @param {{userId: string, now: () => number}} context
 * @returns {(drafts: import('./entries.js').EntryDraft[], options?: {withdraws?: string[]}) => Promise<object[]>}
 */
export function createSave(db, {userId, now}) {
  let line = Promise.resolve();

  async function saveOnce(drafts, withdraws) {
    const {device, known} = await db.run(['meta', 'entries'], 'readonly', (tx) => before(tx, drafts));
    const entries = await stampAll(drafts, known, {author: userId, device, now: now()});
    const fresh = entries.filter((entry) => !known.has(entry.id));
    const rows = await Promise.all(fresh.map((entry) => entryRow(entry, true)));
    if (fresh.length || withdraws.length) {
      await db.run(STORES, 'readwrite', (tx) => commit(tx, {fresh, rows, withdraws, device}), {durability: 'strict'});
    }
    return entries;
  }

  async function saveWhenFree(drafts, withdraws) {
    for (let left = TRIES; left > 0; left -= 1) {
      try {
        return await saveOnce(drafts, withdraws);
      } catch (failure) {
        if (!(failure instanceof NumberTaken)) throw failure;
        await new Promise((resolve) => { setTimeout(resolve, Math.random() * LONGEST_PAUSE); });
      }
    }
    throw new StoreError('unknown');
  }

  return (drafts, {withdraws = []} = {}) => {
    const saving = line.then(() => saveWhenFree(drafts, withdraws));
    line = saving.catch(() => {});  // the next in line does not inherit this one's failure
    return saving;
  };
}

async function before(tx, drafts) {
  const device = (await tx.objectStore('meta').get(DEVICE)).value;
  const known = new Map();
  for (const {id} of drafts) {
    const row = id && await tx.objectStore('entries').get(id);
    if (row) known.set(id, row);
  }
  return {device, known};
}

async function stampAll(drafts, known, {author, device, now}) {
  const entries = [];
  let deviceSeq = device.seq;
  for (const draft of drafts) {
    if (known.has(draft.id)) {
      entries.push(await savedBefore(known.get(draft.id), draft));
    } else {
      deviceSeq += 1;
      entries.push({...makeEntry(draft, {author, device: device.id, deviceSeq, now}), seq: null});
    }
  }
  return entries;
}

async function savedBefore(row, draft) {
  const entry = await entryIn(row);
  if (!sameContent(entry, draft)) throw new TypeError('This id belongs to an entry with other content');
  return entry;
}

async function commit(tx, {fresh, rows, withdraws, device}) {
  const meta = tx.objectStore('meta');
  if (await alreadyThere(tx, fresh)) return;  // a retry after a lost connection: the first one had landed
  const {id, seq} = (await meta.get(DEVICE)).value;
  if (id !== device.id || seq !== device.seq) throw new NumberTaken();
  await Promise.all([
    ...fresh.map(async (entry) => tx.objectStore('outbox').add(outboxRow(entry))),
    ...rows.map(async (row) => tx.objectStore('entries').add(row)),
    meta.put({key: DEVICE, value: {...device, seq: device.seq + fresh.length}}),
  ]);
  const touched = await withdraw(tx, withdraws);
  await markStale(tx, new Set([...touched, ...fresh.map((entry) => entry.client)]));
}

const alreadyThere = async (tx, fresh) => fresh.length > 0
  && Boolean(await tx.objectStore('entries').get(fresh[0].id));

// A held entry that was replaced stays readable in the outbox; it no longer counts or shows.
async function withdraw(tx, ids) {
  const clients = [];
  for (const id of ids) {
    const [mark, row] = await Promise.all([tx.objectStore('outbox').get(id), tx.objectStore('entries').get(id)]);
    if (mark?.state !== 'held' || !row) throw new TypeError('Only an entry that needs attention can be withdrawn');
    await tx.objectStore('outbox').put({...mark, state: 'withdrawn'});
    await tx.objectStore('entries').put({...row, withdrawn: true});
    clients.push(row.client);
  }
  return clients;
}
