// What a request asks for and what an answer means: from the server's words to a change of the store.
import {MAX_FILLS, PROTOCOL, VERDICTS, entryHash, handedBack, isStub, isWhole} from './messages.js';
import {isOfTheCaseload} from './caseloads.js';
import {lookedAtAgain} from './clocks.js';

const DAILY = 24 * 60 * 60 * 1000;

/**
 * @param {object} cursor where the store stands
 * @param {{build: string, device: string, deviceName: string, unsent: number, lastDeviceSeq: number, push: object[],
 *   returned?: {receipt: string|null, covers: string[], entries: object[]}[]}} facts
 * @returns {object} the request as it travels
 */
export function requestFor(cursor, {build, device, deviceName, unsent, lastDeviceSeq, push, returned = []}) {
  return {
    protocol: PROTOCOL,
    build,
    device,
    device_name: deviceName,
    epoch: cursor.epoch,
    unsent,
    last_device_seq: lastDeviceSeq,
    push: push.map(asMade),
    pull: {after: cursor.after, caseload: cursor.caseload?.version ?? null, fill: cursor.fill.slice(0, MAX_FILLS)},
    ...(returned.length > 0 && {returned: returned.map((group) => ({...group, entries: group.entries.map(asMade)}))}),
  };
}

// The server numbers an entry; the device never sends a number back.
function asMade({seq: _seq, received_at: _received, ...entry}) {
  return entry;
}

/**
 * The change an answer makes, for store.applyReply.
 * @param {object} request
 * @param {object} reply
 * @param {{entry: (id: string) => Promise<object|null>, unsentIds: () => Promise<string[]>,
 *   held: () => Promise<object[]>, cursor: () => Promise<object>, devices: () => Promise<string[]>}} store
 * @param {number} now
 */
export async function changeFrom(request, reply, store, now) {
  const unsent = new Set(await store.unsentIds());
  const anew = request.epoch !== null && (request.epoch !== reply.epoch || reply.head < request.pull.after);
  // Started over, all of ours is unsent again.
  const made = new Set(anew ? await store.devices() : []);
  const isOurs = ({id, device}) => unsent.has(id) || made.has(device);
  // So may be, while a log that began anew is read, what it has not brought yet.
  const sweeps = anew || (await store.cursor()).sweep;
  const stubs = await compareAll(reply.pull.entries.filter(isStub), store);
  const mayBeOurs = ({id}) => anew || unsent.has(id);
  const mayBeTwin = (entry) => sweeps || mayBeOurs(entry);
  const mayNotGo = (entry) => isOurs(entry) || (sweeps && (anew || entry.seq === null));
  const entries = await withoutTwins(reply.pull.entries.filter(isWhole), {mayBeTwin, mayNotGo}, store);
  const arrived = [...stubs.confirmed.filter(mayBeOurs), ...entries.filter(isOurs)];
  const held = (await store.held()).map((row) => ({row, means: meansNow(row, reply, now)}));
  const said = verdictsFor(request.push, reply.verdicts, now).map(asTheClocksSay(request, reply, now));
  return {
    // What the server shows of ours it has, whatever became of the answer that should have said so.
    verdicts: [...held.filter(({row, means}) => means && means !== row).map(({means}) => ({...means, verdict: 'held'})),
      ...said,
      ...verdictsFor(handedBack(request), reply.returned ?? [], now), ...arrived.map(duplicate)],
    freed: held.filter(({means}) => means === null).map(({row}) => row.id),
    ofTheCaseload: ofTheCaseload(held.map(({row}) => row), said),
    receipt: await receiptOf(reply.pull, new Set(entries)),
    entries,
    confirmed: stubs.confirmed,
    copied: reply.device_state === 'copied' ? request.device : null,
    page: {
      asked: {epoch: request.epoch, after: request.pull.after, fill: request.pull.fill, caseload: request.pull.caseload},
      epoch: reply.epoch,
      head: reply.head,
      after: reply.pull.after,
      more: reply.pull.more,
      caseload: reply.pull.caseload,
      fill: reply.pull.fill,
      refill: stubs.missing ? await everybody(reply, store) : stubs.differing,
    },
  };
}

/**
 * The verdicts that concern what was pushed: by id, by position where the server could not read one.
 * An item without a verdict, or with one this version does not know, is left out and stays waiting.
 */
export function verdictsFor(pushed, verdicts, now) {
  const ids = new Set(pushed.map((entry) => entry.id));
  const found = new Map();
  verdicts.forEach((verdict, position) => {
    const id = verdict.id ?? (verdicts.length === pushed.length ? pushed[position].id : null);
    if (ids.has(id) && !found.has(id)) found.set(id, read(id, verdict, now));
  });
  return [...found.values()].filter(({verdict}) => VERDICTS.has(verdict));
}

function read(id, verdict, now) {
  const {seq, code = null, field = null, message = null} = verdict;
  const until = verdict.verdict === 'later' ? now + DAILY : null;  // only a newer server will know it
  return {id, verdict: verdict.verdict, seq, code, field, message, until};
}

// What is held, as this answer has it: null when the reason has ended.
function meansNow(row, {device_state: state, server_time: time}, now) {
  if (row.code === 'device_revoked') return state === 'revoked' ? row : null;
  return lookedAtAgain(row, row.at, time, now);
}

function asTheClocksSay({push}, {server_time: time}, now) {
  const recorded = new Map(push.map((entry) => [entry.id, Date.parse(entry.recorded_at)]));
  return (verdict) => lookedAtAgain(verdict, recorded.get(verdict.id), time, now) ?? verdict;
}

// Of an item that was held and sent again the last word counts.
const ofTheCaseload = (held, said) => [...new Map([...held, ...said].map((one) => [one.id, one])).values()]
  .filter(isOfTheCaseload).map(({id}) => id);

const duplicate = ({id, seq}) => ({id, verdict: 'duplicate', seq, code: null, field: null, message: null, until: null});

// Asked from zero the main stream would bring the first page whole and short forms after it, again and
// again: only a fill is whole to its end.
const everybody = async (reply, store) => (reply.pull.caseload ?? (await store.cursor()).caseload)?.clients ?? [];

// What the server holds of ours must be what we hold: a differing entry's client is filled again, a
// missing one, of whomever it may be, has everybody filled.
async function compareAll(stubs, store) {
  const result = {confirmed: [], differing: [], missing: false};
  for (const {id, seq, hash} of stubs) {
    const entry = await store.entry(id);
    if (!entry) result.missing = true;
    else if (await hashOf(entry) === hash) result.confirmed.push({id, seq});
    else result.differing.push(entry.client);
  }
  return {...result, differing: [...new Set(result.differing)]};
}

// Another entry under the id of an unsent or lost one never replaces it: the push will be answered "clash".
async function withoutTwins(entries, {mayBeTwin, mayNotGo}, store) {
  const kept = [];
  for (const entry of entries) {
    const here = mayBeTwin(entry) ? await store.entry(entry.id) : null;
    const twin = here && mayNotGo(here) && await hashOf(entry) !== await hashOf(here);
    if (!twin) kept.push(entry);
  }
  return kept;
}

// What proves to the server that it handed out the whole entries of this page. Of no use when one has no hash.
async function receiptOf({receipt, entries}, filed) {
  if (!receipt) return null;
  const whole = entries.filter((entry) => !isStub(entry));
  const hashes = await Promise.all(whole.map(hashOf));
  return whole.length && !hashes.includes(null) ? {receipt, ids: whole.map((entry) => (filed.has(entry) ? entry.id : '')), hashes} : null;
}

// An entry without a canonical form equals none of ours.
const hashOf = (entry) => entryHash(entry).catch(() => null);

/**
 * How far this phone's clock is behind the server's, and how sure that is, in milliseconds.
 * @returns {{behind: number, give: number}|null}
 */
export function clockFrom(serverTime, askedAt, answeredAt) {
  const server = Date.parse(serverTime);
  if (Number.isNaN(server)) return null;
  return {behind: Math.round(server - (askedAt + answeredAt) / 2), give: Math.ceil((answeredAt - askedAt) / 2)};
}
