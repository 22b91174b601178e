// Rules of the browser's code, and how a person in a hurry might break them: {name: [[file, whole, broken], ...]}.

const REPLY = '/store/reply.js';
const SAVE = '/store/save.js';
const CURSOR = '/store/cursor.js';
const PLAN = '/sync/plan.js';
const RUN = '/sync/run.js';

export const RULES = {
  'every verdict counts as sent': [[REPLY, 'if (SENT.has(verdict.verdict)) {', 'if (verdict.verdict) {']],
  'an item without a verdict counts as sent': [[PLAN, '  return [...found.values()].filter(',
    `  for (const {id} of pushed) if (!found.has(id)) found.set(id, {id, verdict: 'applied', seq: 1});
  return [...found.values()].filter(`]],
  'a verdict is taken by its place': [[PLAN,
    'verdict.id ?? (verdicts.length === pushed.length ? pushed[position].id : null)', 'pushed[position].id']],
  'a 401 drops the queue': [[RUN, "if (end.phase === 'sign_in') this.forgetToken();",
    `if (end.phase === 'sign_in') {
        const ids = await this.#store.unsentIds();
        await this.#store.settle(ids.map((id) => ({id, verdict: 'applied', seq: 1})));
      }`]],
  'the cursor moves before the entries are kept': [[REPLY,
    "  return db.run(STORES, 'readwrite', async (tx) => {\n    const result = await apply(",
    `  await db.run(STORES, 'readwrite', async (tx) => {
    const cursor = (await tx.objectStore('meta').get(SYNC))?.value ?? START;
    if (!ofAnotherLife(cursor, change.page)) await moveCursor(tx, cursor, change.page);
  });
  return db.run(STORES, 'readwrite', async (tx) => {
    const result = await apply(`]],
  'an entry is marked as unsent after it is kept': [
    [SAVE, "    ...fresh.map(async (entry) => tx.objectStore('outbox').add(outboxRow(entry))),\n", ''],
    [SAVE, '    return entries;\n  }\n\n  async function saveWhenFree', `
    await db.run(['outbox'], 'readwrite', (tx) => Promise.all(
      fresh.map(async (entry) => tx.objectStore('outbox').put(outboxRow(entry)))));
    return entries;
  }

  async function saveWhenFree`]],
  'the number is taken before the entry is kept': [[SAVE, '    const fresh = entries.filter(',
    `    if (entries.length) {
      await db.run(['meta'], 'readwrite', (tx) => tx.objectStore('meta').put(
        {key: DEVICE, value: {...device, seq: device.seq + 1}}));
      device.seq += 1;
      entries.forEach((entry) => { entry.device_seq = device.seq; });
    }
    const fresh = entries.filter(`], [SAVE, 'seq: device.seq + fresh.length', 'seq: device.seq']],
  'a new epoch offers nothing again': [[REPLY, 'if (order !== null && !queued.has(id)) {', 'if (queued.has(null)) {']],
  'an answer out of a former life is believed': [[CURSOR,
    'cursor.epoch !== page.asked.epoch && cursor.epoch !== page.epoch', 'cursor.epoch === page']],
  'what a new log lacks is not handed back': [[REPLY, 'if (readAnew) await markLost(tx);', '']],
  'a late answer moves the cursor': [[CURSOR, 'joins ? Math.max(base.after, page.after) : base.after', 'page.after']],
  'a late page ends a fill that began anew': [[CURSOR,
    'if (!wanted.has(client) || !(begun.get(client) <= wanted.get(client))) continue;', 'if (!wanted.has(client)) continue;']],
  'the fill is forgotten': [[CURSOR, '[...newcomers(base, page, from), ...page.refill]', 'page.refill']],
  'a fill ends with its first page': [[CURSOR, 'if (more) wanted.set(', 'if (more && client === null) wanted.set(']],
  'a client who left stays on the phone': [[REPLY, 'if (going.length) await removeClients(tx, going);', '']],
  'unsent entries go with the client': [
    [REPLY, 'const gone = ids.filter((id) => !kept.has(id));', 'const gone = ids.filter((id) => id !== kept);'],
    [REPLY, 'const going = next.leaving.filter((client) => !unsent.has(client));', 'const going = next.leaving;']],
  'a page replaces an unsent twin': [[PLAN, 'if (!twin) kept.push(entry);', 'kept.push(entry);']],
  'what the server confirms and the phone lacks is not fetched': [[PLAN,
    'stubs.missing ? await everybody(reply, store) : stubs.differing', 'stubs.differing']],
  'what a withdrawn device had to hold stays held': [[PLAN,
    "return state === 'revoked' ? row : null;", 'return row;']],
  'what a caseload has solved stays held': [[REPLY,
    'freed.push(...await freeByCaseload(tx, change, caseload));', '']],
  'disagreements are told in another order': [['/clinical/record.js', 'heads.toReversed().map(', 'heads.map(']],
};
