// The cards: one sealed summary a client, so that the caseload opens without reading every entry.
// What a card says is the injected projection's business.
import {entryIn, inOrder} from './entries.js';
import {open, seal} from './seal.js';
import {CARDS_MADE_BY} from './schema.js';

const placeOf = (client) => ({store: 'cards', id: client});
const isStale = (row) => row.stale > row.made;

/** Marks the clients' cards out of date, within the transaction that made them so. */
export async function markStale(tx, clients) {
  const cards = tx.objectStore('cards');
  await Promise.all(Array.from(clients, async (client) => {
    const row = await cards.get(client) ?? {client, stale: 0, made: 0, sealed: null};
    await cards.put({...row, stale: row.stale + 1});
  }));
}

/**
 * @param {{run: Function}} db
 * @param {{project: (entries: object[], client: string) => object, projectVersion: string}} options
 */
export function createCards(db, {project, projectVersion}) {
  let refreshing = Promise.resolve();

  const rows = () => db.run(['cards'], 'readonly', (tx) => tx.objectStore('cards').getAll());

  async function remake(client) {
    const {row, entries} = await db.run(['cards', 'entries'], 'readonly', (tx) => material(tx, client));
    if (!row || !isStale(row)) return;
    const card = cardFrom(await Promise.all(inOrder(entries).map(entryIn)), client);
    const sealed = await seal(card, placeOf(client));
    // `made` keeps the mark seen when reading: what was saved since leaves the card out of date.
    await db.run(['cards'], 'readwrite', (tx) => putMade(tx, client, row.stale, sealed));
  }

  // One entry nobody foresaw must hide neither its client nor the others: the card then says so.
  function cardFrom(entries, client) {
    try {
      return project(entries, client);
    } catch {
      return {...emptyCard(client), client, incomplete: true};
    }
  }

  function emptyCard(client) {
    try {
      return project([], client);
    } catch {
      return {};
    }
  }

  async function remakeAll() {
    let made = [];
    for (let stale = await staleOnes(); stale.length; stale = await staleOnes()) {
      for (const {client} of stale) await remake(client);
      made = made.concat(stale.map(({client}) => client));
    }
    return made;
  }

  const staleOnes = async () => (await rows()).filter(isStale);

  /** Brings every card up to date; one run at a time in this window. */
  function refresh() {
    refreshing = refreshing.catch(() => {}).then(remakeAll);
    return refreshing;
  }

  async function all() {
    let found = await rows();
    if (found.some(isStale)) {
      await refresh();
      found = await rows();
    }
    return Promise.all(found.filter((row) => row.sealed).map((row) => open(row.sealed, placeOf(row.client))));
  }

  async function one(client) {
    await remake(client);
    const row = await db.run(['cards'], 'readonly', (tx) => tx.objectStore('cards').get(client));
    return row?.sealed ? open(row.sealed, placeOf(client)) : null;
  }

  /** A new projection makes every card anew. */
  const adopt = () => db.run(['cards', 'meta'], 'readwrite', (tx) => adoptVersion(tx, projectVersion));

  return {all, one, refresh, adopt};
}

async function material(tx, client) {
  const [row, found] = await Promise.all([
    tx.objectStore('cards').get(client),
    tx.objectStore('entries').index('client').getAll(client),
  ]);
  return {row, entries: found.filter((entry) => !entry.withdrawn)};
}

async function putMade(tx, client, made, sealed) {
  const row = await tx.objectStore('cards').get(client);
  if (row && made > row.made) await tx.objectStore('cards').put({...row, made, sealed});
}

async function adoptVersion(tx, version) {
  const known = await tx.objectStore('meta').get(CARDS_MADE_BY);
  if (known?.value === version) return;
  await markStale(tx, await tx.objectStore('cards').getAllKeys());
  await tx.objectStore('meta').put({key: CARDS_MADE_BY, value: version});
}
