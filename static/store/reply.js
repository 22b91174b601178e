// Applying the server's answer: verdicts, a page of entries and the cursor move in one
// transaction, so that a phone switched off at any moment has either all of it or none.
import {unwrap} from 'idb';
import {isSolved} from '../sync/caseloads.js';
import {millisecondsOf, uuid7} from '../sync/messages.js';
import {entryRow, sealDetails} from './entries.js';
import {START, beginsAnew, moved, ofAnotherLife} from './cursor.js';
import {forgetReceipts, receiptRow} from './receipts.js';
import {ASIDE, forgetAnswers, isOthers, markLost, settleReturned} from './returning.js';
import {DEVICE, SYNC} from './schema.js';
import {markStale} from './stale.js';

const STORES = ['entries', 'outbox', 'drafts', 'cards', 'meta'];
const SENT = new Set(['applied', 'duplicate']);
const HELD = new Set(['held', 'clash']);

/**
 * @typedef {object} Change
 * @property {{id: string, verdict: string, seq?: number, code?: string, field?: string|null, message?: string,
 *   until?: number}[]} verdicts only those that the server gave; an item without one stays as it is
 * @property {object[]} entries whole entries with seq and received_at
 * @property {{id: string, seq: number}[]} confirmed own entries seen again by the server's list
 * @property {object} page what `moved` in cursor.js needs
 * @property {string[]} [freed] held entries whose reason has ended: they are sent again
 * @property {string[]} [ofTheCaseload] entries held for a reason that a caseload may end
 * @property {{receipt: string, ids: string[], hashes: string[]}|null} [receipt] the proof of this page
 * @property {string|null} copied the id under which this device was told that there are two of it
 */

/**
 * @param {{run: Function}} db
 * @param {Change} change
 * @returns {Promise<{clients: string[], removed: string[], freed: string[], device: string}>} clients whose entries
 *   changed or went, what is to be sent again, and the id this device goes by from now on
 */
export async function applyReply(db, change) {
  const ours = new Set(await devicesOf(db));
  const sealed = {
    rows: await Promise.all(change.entries.map((entry) => entryRow(entry, ours.has(entry.device)))),
    details: new Map(await Promise.all(change.verdicts.map(sealedVerdict))),
    receipt: await receiptRow(change.receipt ?? null),
  };
  // Not flushed: after a power cut both the page and the cursor are as before, and asked for again.
  return db.run(STORES, 'readwrite', async (tx) => {
    const result = await apply(tx, change, sealed);
    return {...result, device: await rename(tx, change.copied)};
  });
}

/** The ids of this device: the one it goes by, then those before. @returns {Promise<string[]>} */
export async function devicesOf(db) {
  const {id, former = []} = (await db.run(['meta'], 'readonly', (tx) => tx.objectStore('meta').get(DEVICE))).value;
  return [id, ...former];
}

// What was recorded before stays as it is, under the former id; a late answer to that one changes nothing.
// Not while something was never offered: numbers that begin anew would stand before it.
async function rename(tx, copied) {
  const meta = tx.objectStore('meta');
  const {id, former = []} = (await meta.get(DEVICE)).value;
  if (copied !== id) return id;
  const marks = await tx.objectStore('outbox').getAll();
  if (marks.some(({state, sealed}) => state === 'waiting' && sealed === null)) return id;
  const fresh = uuid7();
  await meta.put({key: DEVICE, value: {id: fresh, seq: 0, former: [...former, id]}});
  return fresh;
}

/**
 * Verdicts alone.
 * @param {{run: Function}} db
 * @param {Change['verdicts']} verdicts
 */
export async function settle(db, verdicts) {
  const details = new Map(await Promise.all(verdicts.map(sealedVerdict)));
  await db.run(STORES, 'readwrite', async (tx) => {
    const touched = new Set();
    for (const verdict of verdicts) await settleOne(tx, verdict, details.get(verdict.id), touched);
    await markStale(tx, touched);
  }, {durability: 'strict'});
}

async function sealedVerdict({id, verdict, code = null, field = null, message = null}) {
  return [id, await sealDetails(id, {verdict, code, field, message})];
}

async function apply(tx, change, {rows, details, receipt}) {
  const cursor = (await tx.objectStore('meta').get(SYNC))?.value ?? START;
  // By "stored" it means a log that is gone: what was sent goes again.
  if (ofAnotherLife(cursor, change.page)) return {clients: [], removed: [], freed: []};
  if (beginsAnew(cursor, change.page)) await forgetNumbers(tx);
  const touched = new Set(rows.map((row) => row.client));
  const freed = [];
  for (const id of change.freed ?? []) if (await sendAgain(tx, id)) freed.push(id);
  for (const verdict of change.verdicts) await settleOne(tx, verdict, details.get(verdict.id), touched);
  putAll(tx.objectStore('entries'), rows);
  if (receipt) await tx.objectStore('meta').put(receipt);
  for (const {id, seq} of change.confirmed) await number(tx, id, seq, touched);
  await markStale(tx, touched);
  const {removed, readAnew, filled, caseload} = await moveCursor(tx, cursor, change.page);
  freed.push(...await freeByCaseload(tx, change, caseload));
  if (readAnew) await markLost(tx);
  if (readAnew || filled || removed.length) await forgetReceipts(tx);
  return {clients: [...touched], removed, freed};
}

async function freeByCaseload(tx, {ofTheCaseload = [], page}, caseload) {
  const freed = [];
  for (const id of ofTheCaseload) {
    const mark = await tx.objectStore('outbox').get(id);
    if (mark && isSolved(mark.client, page.asked.caseload, caseload) && await sendAgain(tx, id)) freed.push(id);
  }
  return freed;
}

/**
 * Puts a held entry back in the queue as it is.
 * @param {import('idb').IDBPTransaction} tx
 * @param {string} id
 * @returns {Promise<boolean>} whether it was held
 */
export async function sendAgain(tx, id) {
  const mark = await tx.objectStore('outbox').get(id);
  if (mark?.state !== 'held') return false;
  await tx.objectStore('outbox').put({...mark, state: 'waiting', until: null});
  return true;
}

// Nobody waits for each row's own answer, a third of the work of a first fill in the page: a row that
// fails ends the transaction, and that is waited for.
function putAll(entries, rows) {
  const plain = unwrap(entries);
  for (const row of rows) plain.put(row);
}

// A restored server may have lost anything. What was made here is offered again, and answered "duplicate"
// where it is known; what others made stays readable without a number, and is handed back if the log lacks it.
async function forgetNumbers(tx) {
  await forgetAnswers(tx);
  const outbox = tx.objectStore('outbox');
  const queued = new Set(await outbox.getAllKeys());
  for (let at = await tx.objectStore('entries').openCursor(); at; at = await at.continue()) {
    const {id, client, order, seq} = at.value;
    if (seq === null) continue;
    if (order !== null && !queued.has(id)) {
      await outbox.put({id, client, state: 'waiting', order, at: millisecondsOf(id), until: null, sealed: null});
    }
    await at.update({...at.value, seq: null});
  }
}

async function settleOne(tx, verdict, sealed, touched) {
  const outbox = tx.objectStore('outbox');
  const mark = await outbox.get(verdict.id);
  if (!mark) return;
  if (SENT.has(verdict.verdict)) {
    await outbox.delete(verdict.id);
    await number(tx, verdict.id, verdict.seq, touched);
  } else if (mark.state === 'withdrawn') {
    return;  // a late word changes nothing
  } else if (isOthers(mark)) {
    await settleReturned(tx, mark, verdict, sealed);
  } else if (HELD.has(verdict.verdict)) {
    await outbox.put({...mark, state: 'held', sealed});
  } else if (verdict.verdict === 'waiting' || verdict.verdict === 'later') {
    await outbox.put({...mark, until: verdict.until ?? null, sealed});
  }
}

async function number(tx, id, seq, touched) {
  const row = await tx.objectStore('entries').get(id);
  if (!row || !Number.isSafeInteger(seq) || row.seq === seq) return;
  const {withdrawn: _withdrawn, ...numbered} = row;  // what stands in the log is shown, withdrawn here or not
  await tx.objectStore('entries').put({...numbered, seq});
  touched.add(row.client);
}

async function moveCursor(tx, cursor, page) {
  const [here, marks] = await Promise.all([tx.objectStore('cards').getAllKeys(), tx.objectStore('outbox').getAll()]);
  const unsent = new Set(marks.filter((mark) => mark.state === 'waiting').map((mark) => mark.client));
  const next = moved(cursor, page, {here, unsent});
  const going = next.leaving.filter((client) => !unsent.has(client));
  const anew = beginsAnew(cursor, page);
  // Of whom the restored service does not know any more this may be the last copy.
  if (cursor.sweep || anew) for (const client of going) await markLost(tx, client);
  if (going.length) await removeClients(tx, going);
  const leaving = next.leaving.filter((client) => unsent.has(client));
  await tx.objectStore('meta').put({key: SYNC, value: {...next, leaving}});
  const filled = cursor.fill.length > 0 && next.fill.length === 0;
  return {removed: going, filled, readAnew: !next.sweep && (cursor.sweep || anew), caseload: next.caseload};
}

// What is held or withdrawn stays for ever, and what is to be handed back until the server has a word on it;
// everything else of a client gone from the caseload goes.
async function removeClients(tx, clients) {
  const marks = await tx.objectStore('outbox').getAll();
  const kept = new Set(marks.filter(({state}) => state !== ASIDE).map(({id}) => id));
  for (const client of clients) await removeClient(tx, client, kept);
}

async function removeClient(tx, client, kept) {
  const [entries, outbox] = [tx.objectStore('entries'), tx.objectStore('outbox')];
  const ids = await entries.index('client').getAllKeys(client);
  const gone = ids.filter((id) => !kept.has(id));
  await Promise.all(gone.flatMap((id) => [entries.delete(id), outbox.delete(id)]));
  if (gone.length < ids.length) await markStale(tx, gone.length ? [client] : []);
  else await forget(tx, client);
}

// The card's mark, if any, goes with the next making. What was begun about the client and never saved goes too.
const forget = (tx, client) => Promise.all([
  tx.objectStore('cards').delete(client),
  tx.objectStore('drafts').delete(IDBKeyRange.bound(`${client}/`, `${client}/\uffff`)),
]);
