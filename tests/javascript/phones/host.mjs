// Phones with the real engine and the real store, driven by JSON lines: one command, one answer, nothing in between.
// Clock, chance and the power come from outside, so that a history can be repeated.
import '../../../static/node_modules/fake-indexeddb/auto/index.mjs';
import {createInterface} from 'node:readline';
import {appWithout} from './breaking.mjs';
import {asJson, createContents, fill, forget, read} from './contents.mjs';
import {PowerCut, arm, guard, hasFailed} from './power.mjs';

const Factory = globalThis.indexedDB.constructor;
delete globalThis.BroadcastChannel;  // it would reach from phone to phone, and only refreshes screens
const PATIENCE = 300_000;
const phones = new Map();
const keys = new Map();
let app = await appWithout('');
let clock = 0;
let drawn = 0;

Date.now = () => clock;
Math.random = () => 0;
const random = crypto.getRandomValues.bind(crypto);
// Ids are made of ten bytes: those count up. Whatever else is random decides nothing.
crypto.getRandomValues = (bytes) => {
  if (bytes.length !== 10) return random(bytes);
  drawn += 1;
  new DataView(bytes.buffer).setUint32(6, drawn);
  return bytes;
};

async function keyOf(person) {
  if (!keys.has(person)) {
    keys.set(person, await crypto.subtle.generateKey({name: 'AES-GCM', length: 256}, false, ['encrypt', 'decrypt']));
  }
  return keys.get(person);
}

const newPhone = () => ({factory: new Factory(), contents: createContents(), tabs: new Map(), off: null});

/** Puts the phone that a command is about in front: its database, its clock, the key of its person. */
async function inFront({phone, person, now}) {
  if (!phones.has(phone)) phones.set(phone, newPhone());
  clock = now;
  globalThis.indexedDB = phones.get(phone).factory;
  app.holdKey(await keyOf(person));
  return phones.get(phone);
}

async function tabOf(phone, {person, window = 0}) {
  const name = `${person}/${window}`;
  if (!phone.tabs.has(name)) {
    const store = await app.openStore(person, {now: () => clock, patience: PATIENCE});
    phone.tabs.set(name, app.createTab(store, () => clock));
  }
  return phone.tabs.get(name);
}

async function restart(phone) {
  const tabs = [...phone.tabs.values()];
  phone.tabs.clear();
  phone.contents.end();
  await Promise.all(tabs.map((tab) => tab.end()));
}

const COUNTED = new Set(['save', 'ask', 'hear', 'giveUp']);
const COMMANDS = {
  begin: async (_phone, {broken}) => {
    phones.clear();
    forget();
    drawn = 0;
    app = await appWithout(broken);
    return {};
  },
  save: async (phone, command) => ({entry: await (await tabOf(phone, command)).store.save(command.draft)}),
  ask: async (phone, command) => (await tabOf(phone, command)).ask(command.sendHeld),
  hear: async (phone, command) => (await tabOf(phone, command)).hear(command.answer),
  giveUp: async (phone, command) => (await tabOf(phone, command)).giveUp(),
  restart: async (phone) => {
    await restart(phone);
    phone.off = null;
    return {};
  },
  wipe: async (phone, {person}) => {
    await restart(phone);
    await new Promise((resolve, reject) => {
      const gone = phone.factory.deleteDatabase(`lintel-${person}`);
      Object.assign(gone, {onsuccess: resolve, onerror: reject, onblocked: reject});
    });
    return {};
  },
  copy: async (phone, {person}) => ({copy: asJson(await phone.contents.rooms(person))}),
  putBack: async (phone, {copies}) => {
    await restart(phone);
    phone.factory = new Factory();
    globalThis.indexedDB = phone.factory;
    for (const [person, copy] of Object.entries(copies)) await fill(person, copy);
    return {};
  },
  state: async (phone, command) => {
    const {store} = await tabOf(phone, command);
    return {...await stateOf(phone, command.person), returned: await store.returning()};
  },
  details: async (phone, {person}) => ({details: await detailsOf(phone, person)}),
};

async function entryIn(person, row) {
  const entry = await read(person, row, app.entryOrNull);
  return entry && {...entry, seq: row.seq};
}

// Read past the store, in one go: what is there, whatever a window believes.
async function stateOf(phone, person) {
  const {entries, outbox, meta} = await phone.contents.rooms(person);
  const value = (key) => meta.find((row) => row.key === key)?.value;
  const opened = new Map(await Promise.all(entries.map(async (row) => [row.id, await entryIn(person, row)])));
  const own = outbox.filter(({state}) => ![app.RETURNING, app.ASIDE].includes(state));
  const marks = await Promise.all(own.sort((one, other) => one.order - other.order).map(async (mark) => (
    {id: mark.id, state: mark.state, ...await read(person, mark, app.detailsIn), entry: opened.get(mark.id) ?? null})));
  const unsent = new Set(marks.map(({id}) => id));
  const sent = entries.filter(({id}) => !unsent.has(id));
  // While a log that began anew is read, and after it, what it has not brought has no number.
  const lost = new Set(sent.filter(({seq}) => seq === null).map(({id}) => id));
  return {
    person, device: value(app.DEVICE), cursor: value(app.SYNC) ?? app.START, outbox: marks,
    entries: sent.filter(({id}) => !lost.has(id)).map(({id}) => opened.get(id)),
    returning: sent.filter(({id}) => lost.has(id)).map(({id}) => opened.get(id)),
  };
}

/** The details and disagreements of each client, as the browser's code resolves what the server has. */
async function detailsOf(phone, person) {
  const {cursor, entries} = await stateOf(phone, person);
  return Object.fromEntries((cursor.caseload?.clients ?? []).map((client) => (
    [client, app.resolveDetails(app.resolveEntries(entries.filter((entry) => entry.client === client)))])));
}

async function obey(command) {
  const phone = await inFront(command);
  if (command.offIn !== undefined) phone.off = command.offIn;
  arm(COUNTED.has(command.do) ? phone : null);
  try {
    return await guard(async () => COMMANDS[command.do](phone, command));
  } catch (failure) {
    if (!(failure instanceof PowerCut)) throw failure;
    await restart(phone);
    return {died: failure.message};
  } finally {
    arm(null);
  }
}

// A window that went off with the power ends in the middle of things; whatever else goes wrong is told.
function unlessPowerFailed(failure) {
  if (!(failure instanceof PowerCut) && !(hasFailed() && failure instanceof DOMException)) throw failure;
}
process.on('unhandledRejection', unlessPowerFailed);

for await (const line of createInterface({input: process.stdin})) {
  const answer = await obey(JSON.parse(line)).catch((failure) => ({fault: String(failure?.stack ?? failure)}));
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
