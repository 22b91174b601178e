// One window of a phone: the engine over the store, its requests handed out one by one.
import {createEngine} from '../../../static/sync/engine.js';
import {step} from './power.mjs';

const NEVER = new Promise(() => {});

/**
 * @param {object} store an open store
 * @param {() => number} now
 */
export function createTab(store, now) {
  let waiting = null;  // the request under way: {resolve, reject}
  let running = null;
  let asked = null;  // called with the next request
  let dead = false;
  const timers = new Set();

  const engine = createEngine({
    store, now, random: () => 0, locks: null, fetch: send, build: 'simulation', deviceName: 'Phone',
    page: {window: null, document: null},
    timers: {
      setTimeout(work, wait) {
        const timer = {work, wait};
        timers.add(timer);
        return timer;
      },
      clearTimeout: (timer) => timers.delete(timer),
    },
  });

  function send(path, {body, headers, signal} = {}) {
    if (dead) return NEVER;
    step('before it sends');
    return new Promise((resolve, reject) => {
      waiting = {resolve, reject};
      signal?.addEventListener('abort', () => reject(signal.reason));
      asked({path, headers: headers ?? {}, body: body ? Buffer.from(body).toString('base64') : ''});
    });
  }

  // What comes first: another request, or the end of the run.
  async function untilNext(begin) {
    const next = new Promise((resolve) => { asked = (request) => resolve({request}); });
    begin();
    const ended = running.then((status) => ({ended: status}));
    const found = await Promise.race([next, ended]);
    if (found.ended) running = null;
    return found;
  }

  return {
    store,
    async ask(sendHeld) {
      if (running) return {};
      if (sendHeld) {
        for (const {id, state} of await store.outbox()) if (state === 'held') await store.sendAgain(id);
      }
      return untilNext(() => { running = engine.syncNow(); });
    },
    /** @param {{status: number, headers: object, body: string}|null} answer null: the line broke */
    hear: (answer) => untilNext(() => {
      const {resolve, reject} = waiting;
      if (!answer) reject(new TypeError('Failed to fetch'));
      else resolve(new Response(Buffer.from(answer.body, 'base64'), {status: answer.status, headers: answer.headers}));
    }),
    /** The engine's own patience ends. */
    giveUp: () => untilNext(() => {
      for (const timer of [...timers]) if (timer.wait <= 60_000) timer.work();
    }),
    end() {
      dead = true;
      return store.close();
    },
  };
}
