// One run: requests until nothing is left to send and nothing left to fetch, or something stops it.
import {nextBatch} from './batch.js';
import {lessMayHelp} from './exchange.js';
import {giveBack} from './give_back.js';
import {MAX_ITEMS, MAX_PUSH_BYTES} from './messages.js';
import {changeFrom, clockFrom, requestFor} from './plan.js';
import {SENTENCES, stopped} from './stopped.js';

const TRIES_ALONE = 5;
const FEW = 100;  // what a cut line costs once more is little then, and fewer would not help where there is no line
const SET_ASIDE_FOR = 24 * 60 * 60 * 1000;
const ENVELOPE = 4096;  // room for what surrounds the entries

/** @typedef {import('./stopped.js').Result} Result */

/**
 * How far the record has come, while more is to come: the share of the log that was read, then clients to fill.
 * @returns {{share: number, clients: number}|null}
 */
export function progressOf({after, fill}, {head, pull}) {
  if (!pull.more && fill.length === 0) return null;
  return {share: head > 0 ? Math.min(1, after / head) : 0, clients: fill.length};
}

/**
 * @param {{store: object, exchange: object, now: () => number, build: string, deviceName: string}} parts
 * @returns {Run}
 */
export const createRun = (parts) => new Run(parts);

class Run {
  #store;
  #exchange;
  #now;
  #names;
  #csrf = null;
  #pack = true;
  #items = MAX_ITEMS;  // fewer after a refusal, more again after a success
  #refusedAlone = new Map();

  constructor({store, exchange, now, build, deviceName}) {
    this.#store = store;
    this.#exchange = exchange;
    this.#now = now;
    this.#names = {build, deviceName};
  }

  /** Sends and fetches until done. @param {(progress?: object|null) => void} beat called at every sign of life @returns {Promise<Result>} */
  async once(beat) {
    const state = {beat, tried: new Set(), suspects: new Set(), wentBack: false, answered: false, clock: null};
    const end = await this.#all(state).catch(async (error) => {
      // What came before the fault is to be seen all the same: cards wait for the end of a run.
      if (state.answered) await this.#store.refreshCards().catch(() => {});
      throw error;
    });
    if (state.answered) await this.#store.refreshCards();
    if (end) {
      if (end.phase === 'sign_in') this.forgetToken();
      return end;
    }
    const at = new Date(this.#now()).toISOString();
    await this.#store.setMeta('last_synced_at', at);
    await this.#store.setMeta('clock', state.clock);
    return {phase: 'idle', at};
  }

  async #all(state) {
    return (this.#csrf ? null : await this.learnSession()) ?? await this.#exchangeAll(state) ?? this.#giveBack(state);
  }

  /** Learns who is signed in; a result when the run may not go on. @returns {Promise<Result|null>} */
  async learnSession() {
    const outcome = await this.#exchange.session();
    if (outcome.kind !== 'answer') return stopped(outcome);
    const {csrf, ...session} = outcome.answer;
    if (session.user.id !== this.#store.userId) return stopped({kind: 'someone_else'});
    this.#csrf = csrf;
    await this.#store.setMeta('session', session);
    return null;
  }

  /** Asks who is signed in before the next request: another window may have changed it. */
  forgetToken() {
    this.#csrf = null;
  }

  async #exchangeAll(state) {
    let renewed = false;
    for (;;) {
      state.beat();
      const {again, renew, result} = await this.#step(state);
      if (renew && !renewed) {
        renewed = true;
        const stop = await this.learnSession();
        if (stop) return stop;
      } else if (!again) {
        return result ?? null;
      }
    }
  }

  /** What others recorded and a restored log lost; afterwards what waited for it is sent again. */
  async #giveBack(state) {
    const {result, taken} = await giveBack(this.#store, async (returned) => {
      state.beat();
      const before = await this.#store.cursor();
      const request = requestFor(before, {...this.#names, ...await this.#numbers(), push: [], returned});
      const outcome = await this.#exchange.sync(request, {csrf: this.#csrf, pack: this.#pack, person: this.#store.userId});
      if (outcome.kind !== 'answer') return {answer: null, kind: outcome.kind, result: stopped(outcome)};
      await this.#afterAnswer(request, outcome.answer, state);
      return {answer: outcome.answer, kind: outcome.kind, result: null};
    });
    if (result || !taken) return result;
    state.tried.clear();
    return this.#exchangeAll(state);
  }

  async #step(state) {
    const left = await this.#store.unsent({now: this.#now(), limit: 2 * MAX_ITEMS, without: state.tried});
    const push = nextBatch(left, {items: this.#items, bytes: MAX_PUSH_BYTES - ENVELOPE});
    const before = await this.#store.cursor();
    const request = requestFor(before, {...this.#names, ...await this.#numbers(), push});
    const askedAt = this.#now();
    const outcome = await this.#exchange.sync(request, {csrf: this.#csrf, pack: this.#pack, person: this.#store.userId});
    if (outcome.kind !== 'answer') return this.#afterRefusal(outcome, push, state);
    state.clock = clockFrom(outcome.answer.server_time, askedAt, this.#now());
    await this.#afterAnswer(request, outcome.answer, state);
    state.beat(progressOf(await this.#store.cursor(), outcome.answer));
    return {again: left.length > push.length || await this.#more(before, outcome.answer.pull, state)};
  }

  async #numbers() {
    const [{waiting, held}, numbering] = await Promise.all([this.#store.counts(), this.#store.numbering()]);
    return {unsent: waiting + held, ...numbering};
  }

  async #afterAnswer(request, answer, state) {
    this.#items = Math.min(MAX_ITEMS, this.#items * 2);
    state.answered = true;
    for (const {id} of request.push) state.tried.add(id);
    await this.#setAside(state.suspects);
    const {freed} = await this.#store.applyReply(await changeFrom(request, answer, this.#store, this.#now()));
    // What was held for a reason that has ended goes without being asked for; once a run, whatever is said of it then.
    state.goesAgain = freed.some((id) => !state.tried.has(id));
    await this.#keepSettings(answer.settings);
    await this.#keepState(answer.device_state === 'revoked' ? 'revoked' : 'active');
  }

  // What the service has switched on reaches the phone with the next answer, not the next sign-in.
  async #keepSettings(settings) {
    const session = await this.#store.meta('session');
    if (!session || JSON.stringify(session.organisation.settings) === JSON.stringify(settings)) return;
    await this.#store.setMeta('session', {...session, organisation: {...session.organisation, settings}});
  }

  async #keepState(now) {
    if ((await this.#store.meta('device_state') ?? 'active') !== now) await this.#store.setMeta('device_state', now);
  }

  // Only while the cursor moves: a server that repeats itself must not hold us. One that lost what
  // it knew gets everything of ours again, once a run.
  async #more(before, pull, state) {
    const after = await this.#store.cursor();
    const wentBack = after.after < before.after || (before.epoch !== null && after.epoch !== before.epoch);
    if (wentBack && !state.wentBack) {
      state.wentBack = true;
      state.tried.clear();  // what waited for an entry that the server had lost goes behind it now
      return true;
    }
    if (state.goesAgain) return true;
    const open = pull.more || after.fill.length > 0;
    return open && JSON.stringify(after) !== JSON.stringify(before);
  }

  /** A smaller batch, a fresh token or plain text may help at once; the rest ends the run. */
  async #afterRefusal(outcome, push, state) {
    const end = {result: stopped(outcome)};
    if (outcome.kind === 'forbidden') return {...end, renew: true};
    if (outcome.kind === 'unpacked' && this.#pack) {
      this.#pack = false;
      return {again: true};
    }
    if (push.length === 1) return this.#afterLoneRefusal(outcome, push[0], state);
    if (outcome.kind === 'unreachable' && push.length > FEW) this.#items = Math.max(FEW, Math.floor(push.length / 2));
    if (push.length > 1 && lessMayHelp(outcome.kind)) {
      this.#items = Math.max(1, Math.floor(push.length / 2));
      return outcome.kind === 'too_large' ? {again: true} : end;
    }
    return end;
  }

  // One entry that nobody can take must not hold back the others: after some tries alone the run
  // goes on without it.
  async #afterLoneRefusal(outcome, {id}, {tried, suspects}) {
    if (outcome.kind === 'too_large') {
      await this.#store.settle([{id, verdict: 'held', code: 'too_large', message: SENTENCES.too_large}]);
      return {again: true};
    }
    if (outcome.kind !== 'refused') return {result: stopped(outcome)};
    const refusals = (this.#refusedAlone.get(id) ?? 0) + 1;
    this.#refusedAlone.set(id, refusals);
    if (refusals < TRIES_ALONE) return {result: stopped(outcome)};
    tried.add(id);
    suspects.add(id);
    return {again: true};
  }

  // It was the entry and not the server's bad day only if the server answered the request after.
  async #setAside(suspects) {
    if (!suspects.size) return;
    const until = this.#now() + SET_ASIDE_FOR;
    await this.#store.settle([...suspects].map((id) => (
      {id, verdict: 'later', code: 'not_taken', message: SENTENCES.not_taken, until})));
    for (const id of suspects) this.#refusedAlone.delete(id);
    suspects.clear();
  }
}
