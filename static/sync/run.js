// One run: requests until nothing is left to send and nothing left to fetch, or something stops it.
import {nextBatch} from './batch.js';
import {MAX_ITEMS, MAX_PUSH_BYTES} from './messages.js';
import {changeFrom, requestFor} from './plan.js';

const TRIES_ALONE = 5;
const SET_ASIDE_FOR = 24 * 60 * 60 * 1000;
const ENVELOPE = 4096;  // room for what surrounds the entries

const SENTENCES = {
  offline: 'No connection to the server. Everything is saved on this phone and will be sent later.',
  sign_in: 'Sign in to send and receive. Everything is saved on this phone.',
  someone_else: 'Someone else is signed in. Your entries stay on this phone until you sign in again.',
  busy: 'The server cannot answer just now. Everything is saved on this phone; Lintel tries again by itself.',
  update: 'Lintel needs its new version to send and receive. Everything is saved on this phone.',
  too_large: 'This entry is too large to be sent. Record it again with less text.',
  not_taken: 'The server could not take this entry. Lintel offers it again tomorrow.',
};

/**
 * @typedef {object} Result
 * @property {'idle'|'offline'|'sign_in'|'error'|'update'} phase
 * @property {string|null} [message]
 * @property {number|null} [askedSeconds]
 * @property {string} [at] when the whole run was done
 */

/**
 * @param {object} parts
 * @returns {{once: (beat: () => void) => Promise<Result>, learnSession: () => Promise<Result|null>}}
 */
export function createRun({store, exchange, now, build, deviceName}) {
  const line = {csrf: null, pack: true, items: MAX_ITEMS, refusedAlone: new Map(), clock: null};

  /** Learns who is signed in; the outcome tells whether the run may go on. */
  async function learnSession() {
    const outcome = await exchange.session();
    if (outcome.kind !== 'answer') return stopped(outcome);
    const {csrf, ...session} = outcome.answer;
    if (session.user.id !== store.userId) return {phase: 'sign_in', message: SENTENCES.someone_else};
    line.csrf = csrf;
    await store.setMeta('session', session);
    return null;
  }

  async function facts({tried}) {
    const left = await store.unsent({now: now(), limit: 2 * MAX_ITEMS, without: tried});
    return {
      build, deviceName, device: store.device,
      unsent: (await store.counts()).waiting,
      lastDeviceSeq: await store.lastDeviceSeq(),
      push: nextBatch(left, {items: line.items, bytes: MAX_PUSH_BYTES - ENVELOPE}),
      left: left.length,
    };
  }

  async function step(state) {
    const known = await facts(state);
    const before = await store.cursor();
    const request = requestFor(before, known);
    const askedAt = now();
    const outcome = await exchange.sync(request, line);
    if (outcome.kind !== 'answer') return afterRefusal(outcome, request, state);
    line.clock = clockFrom(outcome.answer.server_time, askedAt, now());
    line.items = Math.min(MAX_ITEMS, line.items * 2);
    for (const {id} of request.push) state.tried.add(id);
    await setAside(state.suspects);
    await store.applyReply(await changeFrom(request, outcome.answer, store, now()));
    return {again: known.left > request.push.length || await more(before, outcome.answer.pull, state)};
  }

  // Only while the cursor moves: a server that repeats itself must not hold us. One that lost what
  // it knew gets everything of ours again, once a run.
  async function more(before, pull, state) {
    const after = await store.cursor();
    const wentBack = after.after < before.after || (before.epoch !== null && after.epoch !== before.epoch);
    if (wentBack && !state.wentBack) return state.wentBack = true;
    const open = pull.more || after.fill.length > 0;
    return open && JSON.stringify(after) !== JSON.stringify(before);
  }

  /** A smaller batch, a fresh token or plain text may help at once; the rest ends the run. */
  async function afterRefusal(outcome, {push}, state) {
    const end = {result: stopped(outcome)};
    if (outcome.kind === 'forbidden') return {...end, renew: true};
    if (outcome.kind === 'unpacked' && line.pack) {
      line.pack = false;
      return {again: true};
    }
    if (push.length === 1) return afterLoneRefusal(outcome, push[0], state);
    if (push.length > 1 && ['too_large', 'refused', 'timeout'].includes(outcome.kind)) {
      line.items = Math.max(1, Math.floor(push.length / 2));
      return outcome.kind === 'too_large' ? {again: true} : end;
    }
    return end;
  }

  // One entry that nobody can take must not hold back the others: after some tries alone the run
  // goes on without it.
  async function afterLoneRefusal(outcome, {id}, {tried, suspects}) {
    if (outcome.kind === 'too_large') {
      await store.settle([{id, verdict: 'held', code: 'too_large', message: SENTENCES.too_large}]);
      return {again: true};
    }
    if (outcome.kind !== 'refused') return {result: stopped(outcome)};
    const refusals = (line.refusedAlone.get(id) ?? 0) + 1;
    line.refusedAlone.set(id, refusals);
    if (refusals < TRIES_ALONE) return {result: stopped(outcome)};
    tried.add(id);
    suspects.add(id);
    return {again: true};
  }

  // It was the entry and not the server's bad day only if the server answered the request after.
  async function setAside(suspects) {
    if (!suspects.size) return;
    const until = now() + SET_ASIDE_FOR;
    await store.settle([...suspects].map((id) => (
      {id, verdict: 'later', code: 'not_taken', message: SENTENCES.not_taken, until})));
    for (const id of suspects) line.refusedAlone.delete(id);
    suspects.clear();
  }

  async function exchangeAll(beat) {
    const state = {tried: new Set(), suspects: new Set(), wentBack: false};
    let renewed = false;
    for (;;) {
      beat();
      const {again, renew, result} = await step(state);
      if (renew && !renewed) {
        renewed = true;
        const stop = await learnSession();
        if (stop) return stop;
      } else if (!again) {
        return result ?? null;
      }
    }
  }

  async function once(beat) {
    const stop = line.csrf ? null : await learnSession();
    const end = stop ?? await exchangeAll(beat);
    await store.refreshCards();
    if (end) {
      if (end.phase === 'sign_in') line.csrf = null;
      return end;
    }
    const at = new Date(now()).toISOString();
    await store.setMeta('last_synced_at', at);
    await store.setMeta('clock', line.clock);
    return {phase: 'idle', at};
  }

  return {once, learnSession};
}

/** How far this phone's clock is from the server's, and how sure that is, in milliseconds. */
function clockFrom(serverTime, askedAt, answeredAt) {
  const server = Date.parse(serverTime);
  if (Number.isNaN(server)) return null;
  return {behind: Math.round(server - (askedAt + answeredAt) / 2), give: Math.ceil((answeredAt - askedAt) / 2)};
}

/** How a request that brought no answer ends the run. */
function stopped({kind, message = null, askedSeconds = null}) {
  if (kind === 'sign_in') return {phase: 'sign_in', message: SENTENCES.sign_in};
  if (kind === 'update') return {phase: 'update', message: SENTENCES.update};
  if (kind === 'unreachable' || kind === 'timeout') return {phase: 'offline', message: SENTENCES.offline, askedSeconds};
  return {phase: 'error', message: message ?? SENTENCES.busy, askedSeconds};
}
