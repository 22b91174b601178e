// Phones with the real engine and the real store, driven by JSON lines: one command, one answer, nothing in between.
// Clock, chance and the power come from outside, so that a history can be repeated.
import '../../../static/node_modules/fake-indexeddb/auto/index.mjs';
import {createInterface} from 'node:readline';
import {resolveDetails, resolveEntries} from '../../../static/clinical/record.js';
import {openStore} from '../../../static/store/index.js';
import {devicesOf} from '../../../static/store/reply.js';
import {holdKey} from '../../../static/store/seal.js';
import {contents, fill} from './contents.mjs';
import {PowerCut, arm, guard, hasFailed} from './power.mjs';
import {createTab} from './tab.mjs';

const Factory = globalThis.indexedDB.constructor;
delete globalThis.BroadcastChannel;  // it would reach from phone to phone, and only refreshes screens
const PATIENCE = 300_000;
const phones = new Map();
const keys = new Map();
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

const newPhone = () => ({factory: new Factory(), tabs: new Map(), off: null});

/** Puts the phone that a command is about in front: its database, its clock, the key of its person. */
async function inFront({phone, person, now}) {
  if (!phones.has(phone)) phones.set(phone, newPhone());
  clock = now;
  globalThis.indexedDB = phones.get(phone).factory;
  holdKey(await keyOf(person));
  return phones.get(phone);
}

async function tabOf(phone, {person, window = 0}) {
  const name = `${person}/${window}`;
  if (!phone.tabs.has(name)) {
    const store = await openStore(person, {now: () => clock, patience: PATIENCE});
    phone.tabs.set(name, createTab(store, () => clock));
  }
  return phone.tabs.get(name);
}

async function restart(phone) {
  const tabs = [...phone.tabs.values()];
  phone.tabs.clear();
  await Promise.all(tabs.map((tab) => tab.end()));
}

const COUNTED = new Set(['save', 'ask', 'hear', 'giveUp']);
const COMMANDS = {
  begin: () => { phones.clear(); drawn = 0; return {}; },
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
  copy: async (phone, command) => ({copy: await contents(command.person)}),
  putBack: async (phone, {copies}) => {
    await restart(phone);
    phone.factory = new Factory();
    globalThis.indexedDB = phone.factory;
    for (const [person, copy] of Object.entries(copies)) await fill(person, copy);
    return {};
  },
  state: async (phone, command) => stateOf((await tabOf(phone, command)).store),
};

async function stateOf(store) {
  const [cursor, outbox, returned, {device, lastDeviceSeq}, devices, rows] = await Promise.all([
    store.cursor(), store.outbox(), store.returning(), store.numbering(), store.devices(), contents(store.userId)]);
  const unsent = new Set(outbox.map(({id}) => id));
  // While a log that began anew is read, and after it, what it has not brought has no number.
  const lost = new Set(rows.entries.filter(({id, seq}) => seq === null && !unsent.has(id)).map(({id}) => id));
  const [entries, returning] = [[], []];
  for (const {id} of rows.entries) if (!unsent.has(id)) (lost.has(id) ? returning : entries).push(await store.entry(id));
  return {
    person: store.userId, device, deviceSeq: lastDeviceSeq, former: devices.slice(1), cursor, outbox, entries, returning, returned,
    details: Object.fromEntries(await Promise.all((cursor.caseload?.clients ?? []).map(async (client) => (
      [client, resolveDetails(resolveEntries((await store.entriesOf(client)).filter(({id}) => !unsent.has(id) && !lost.has(id))))])))),
  };
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
process.on('unhandledRejection', (failure) => {
  if (!(failure instanceof PowerCut) && !(hasFailed() && failure instanceof DOMException)) throw failure;
});

for await (const line of createInterface({input: process.stdin})) {
  const answer = await obey(JSON.parse(line)).catch((failure) => ({fault: String(failure?.stack ?? failure)}));
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
