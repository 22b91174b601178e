// An engine over an in-memory store, a server in a few lines, and a clock that the test moves.
import {after} from 'node:test';
import {gunzipSync} from 'node:zlib';
import {createEngine} from '../../../static/sync/engine.js';
import {entryHash} from '../../../static/sync/messages.js';
import {freshStore} from '../store/helpers.mjs';

export const JSON_TYPE = {'content-type': 'application/json'};
export const json = (body, status = 200, headers = {}) => new Response(JSON.stringify(body),
  {status, headers: {...JSON_TYPE, ...headers}});
export const fault = (status, code = 'fault', headers = {}) => json(
  {error: {code, field: null, message: `The server says ${code}.`}}, status, headers);
export const html = (status = 200) => new Response('<h1>Welcome to the café</h1>',
  {status, headers: {'content-type': 'text/html'}});

/** Time that stands still until the test moves it. */
export function createClock(start = Date.parse('2026-11-25T09:00:00Z')) {
  let time = start;
  let timers = [];
  return {
    now: () => time,
    timers: {
      setTimeout(work, wait) {
        const timer = {work, at: time + wait};
        timers.push(timer);
        return timer;
      },
      clearTimeout(timer) {
        timers = timers.filter((other) => other !== timer);
      },
    },
    pending: () => timers.map((timer) => timer.at - time),
    async advance(milliseconds) {
      const end = time + milliseconds;
      for (;;) {
        const due = timers.filter((timer) => timer.at <= end).sort((a, b) => a.at - b.at)[0];
        if (!due) break;
        time = Math.max(time, due.at);
        timers = timers.filter((timer) => timer !== due);
        due.work();
        await breath();
      }
      time = end;
    },
  };
}

const pause = (milliseconds) => new Promise((resolve) => { setTimeout(resolve, milliseconds); });

/** Lets everything that needs no clock run on: on a busy machine until no engine is at work, unless one waits for a timer. */
export async function breath(milliseconds = 25) {
  await pause(milliseconds);
  for (let tries = 0; tries < 50 && engines.some((engine) => engine.status().phase === 'syncing'); tries += 1) await pause(10);
}

/** A server as the protocol has it, for one person; `script` holds answers to give instead, in order. */
export function createServer({userId}) {
  const server = {
    epoch: '5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c44', log: [], caseload: {version: 'v1', clients: []}, csrf: 'token-1', userId,
    settings: {early_warning: true},
    requests: [], script: [], verdict: () => null, page: 100, time: '2026-11-25T09:00:00.000Z',
    fetch: async (path, init) => {
      const request = {path, init, body: await bodyOf(init)};
      server.requests.push(request);
      const scripted = server.script.length ? server.script.shift() : null;
      const answer = typeof scripted === 'function' ? await scripted(request, () => handle(server, request)) : scripted;
      return answer ?? handle(server, request);
    },
    syncs: () => server.requests.filter(({path}) => path === '/api/v1/sync').map(({body}) => body),
    add(entry) {
      server.log.push({...entry, seq: server.log.length + 1});
      if (server.caseload.clients.includes(entry.client)) return;
      server.caseload = {version: `${server.caseload.version}+`, clients: [...server.caseload.clients, entry.client]};
    },
  };
  return server;
}

async function bodyOf({body, headers = {}} = {}) {
  if (!body) return null;
  return JSON.parse(headers['Content-Encoding'] === 'gzip' ? gunzipSync(body).toString() : new TextDecoder().decode(body));
}

async function handle(server, {path, init, body}) {
  if (path === '/api/v1/session') {
    return json({user: {id: server.userId, name: 'Invented Person', role: 'therapist'},
      organisation: {id: 'org', name: 'Invented Team', settings: server.settings}, csrf: server.csrf,
      server_time: '2026-11-25T09:00:00.000Z'});
  }
  if (init.headers['X-CSRFToken'] !== server.csrf) return fault(400, 'csrf');
  const verdicts = [];
  const returned = server.unaware || !body.returned ? undefined : await takeBack(server, body.returned);
  for (const entry of body.push) verdicts.push(server.verdict(entry) ?? await take(server, entry));
  return json({protocol: 1, server_time: server.time, person: server.userId, settings: server.settings,
    device_state: server.state, returned,
    epoch: server.epoch, head: server.log.length, verdicts: verdicts.filter((verdict) => verdict !== 'none'), pull: await pulled(server, body)});
}

async function take(server, entry) {
  const known = server.log.find(({id}) => id === entry.id);
  if (!known) server.add(entry);
  else if (await entryHash(known) !== await entryHash(entry)) return {id: entry.id, verdict: 'clash', message: 'Twin.'};
  return {id: entry.id, verdict: known ? 'duplicate' : 'applied', seq: (known ?? server.log.at(-1)).seq};
}

// Receipts by a rule of its own: to a device they are opaque.
const receiptFor = async (hashes) => (await entryHash({covers: hashes})).slice(0, 43);

async function takeBack(server, groups) {
  const verdicts = [];
  for (const {receipt, covers, entries} of groups) {
    const holds = receipt === await receiptFor(covers);
    for (const entry of entries) {
      const proved = holds && covers.includes(await entryHash(entry));
      verdicts.push(server.verdict(entry) ?? (proved ? await take(server, entry) : {id: entry.id, verdict: 'held', code: 'unproved', message: 'No proof.'}));
    }
  }
  return verdicts;
}

async function pulled(server, {device, epoch, pull}) {
  const from = epoch === server.epoch && pull.after <= server.log.length ? pull.after : 0;
  const visible = ({client}) => client === undefined || server.caseload.clients.includes(client);
  const page = server.log.filter(({seq}) => seq > from).slice(0, server.page);
  const entries = await Promise.all(page.filter(visible).map(async (entry) => (
    entry.device === device && from > 0 ? {id: entry.id, seq: entry.seq, hash: await entryHash(entry)} : entry)));
  const fill = pull.fill.filter(({client}) => visible({client})).map(({client}) => {
    entries.push(...server.log.filter((entry) => entry.client === client));
    return {client, after: server.log.length, more: false};
  });
  const after = page.at(-1)?.seq ?? Math.max(from, server.log.length);
  const unchanged = pull.caseload === server.caseload.version;
  const hashes = await Promise.all(entries.filter(({kind}) => kind).map(entryHash));
  return {...(hashes.length > 0 && !server.unaware && {receipt: await receiptFor(hashes)}), entries, after, more: after < server.log.length,
    caseload: unchanged ? null : structuredClone(server.caseload), fill};
}

/** Web Locks in one process: one holder a name, the others queue until their signal aborts. */
export function createLocks() {
  const tails = new Map();
  return {
    async request(name, {signal}, work) {
      const before = tails.get(name) ?? Promise.resolve();
      let free;
      tails.set(name, before.then(() => new Promise((resolve) => { free = resolve; })));
      const aborted = new Promise((_resolve, reject) => {
        signal.addEventListener('abort', () => reject(signal.reason));
      });
      try {
        await Promise.race([before, aborted]);
        return await work({name});
      } finally {
        before.then(() => free?.());
      }
    },
    /** A window that took the lock and froze. */
    freeze: (name) => tails.set(name, new Promise(() => {})),
  };
}

export function createPage() {
  const document = Object.assign(new EventTarget(), {visibilityState: 'visible'});
  return {
    window: new EventTarget(),
    document,
    goOnline() {
      this.window.dispatchEvent(new Event('online'));
    },
    show(state) {
      document.visibilityState = state;
      document.dispatchEvent(new Event('visibilitychange'));
    },
  };
}

const engines = [];
after(() => engines.forEach((engine) => engine.stop()));

/** Everything together: {engine, store, server, clock, page}. */
export async function bench(options = {}) {
  const clock = options.clock ?? createClock();
  const store = options.store ?? await freshStore({now: clock.now});
  const server = options.server ?? createServer({userId: store.userId});
  const page = createPage();
  const engine = createEngine({store, fetch: server.fetch, now: clock.now, random: () => 0.5, locks: null,
    timers: clock.timers, page, build: 'test', deviceName: 'Test phone', ...options.engine});
  engines.push(engine);
  return {engine, store, server, clock, page};
}
