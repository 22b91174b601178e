// The cards: one sealed summary a client, so that the caseload opens without reading every entry.
// What a card says is the injected projection's business.
import {inOrder} from './entries.js';
import {orIfDamaged, readable} from './readable.js';
import {open, seal} from './seal.js';
import {CARDS_MADE_BY} from './schema.js';
import {markStale, staleIn, unmark} from './stale.js';

const MARKS = 2;  // how stale cards are marked; before, each card carried its own mark
const TOGETHER = 8;  // cards made in one go; our choice: the screen answers between them

const placeOf = (client) => ({store: 'cards', id: client});

/**
 * @param {{run: Function}} db
 * @param {{project: (entries: object[], client: string) => object, projectVersion: string}} options
 */
export function createCards(db, {project, projectVersion}) {
  let refreshing = null;
  let next = null;
  let opening = null;
  let filling = false;  // more pages follow: cards made now would be made again with every one of them
  const saved = new Set();  // clients with something new of this phone's own: theirs do not wait

  const staleOnes = () => db.run(['meta'], 'readonly', async (tx) => [...(await staleIn(tx)).marks.keys()]);

  async function remake(clients) {
    const found = await db.run(['entries', 'meta'], 'readonly', (tx) => material(tx, clients));
    if (!found.length) return;
    const made = await Promise.all(found.map(madeFrom));
    await db.run(['cards', 'meta'], 'readwrite', (tx) => putMade(tx, made));
  }

  async function madeFrom({client, mark, entries}) {
    const card = cardFrom(await readable(db, inOrder(entries)), client);
    return {client, mark, sealed: await seal(card, placeOf(client))};
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

  // What becomes stale meanwhile is left for the next time: the pages of a long sync would never let this end.
  async function remakeAll() {
    filling = false;
    saved.clear();
    const stale = await staleOnes();
    await remakeInGroups(stale);
    return stale;
  }

  async function remakeInGroups(clients) {
    for (let at = 0; at < clients.length; at += TOGETHER) await remake(clients.slice(at, at + TOGETHER));
  }

  /** Brings every card up to date; one run at a time in this window, and one more for all who asked meanwhile. */
  function refresh() {
    if (refreshing) {
      next ??= refreshing.catch(() => {}).then(() => {
        next = null;
        return refresh();
      });
      return next;
    }
    refreshing = remakeAll().finally(() => { refreshing = null; });
    return refreshing;
  }

  /** While pages follow each other lists show the cards as they stand; `refresh` ends that. */
  function follow({more, fill}) {
    filling = more || fill.some((each) => each.more);
  }

  const hurry = (clients) => clients.forEach((client) => saved.add(client));

  async function bringUpToDate() {
    const stale = await staleOnes();
    if (!filling) return stale.length ? refresh() : undefined;
    const urgent = stale.filter((client) => saved.has(client));
    await remakeInGroups(urgent);
    return urgent.forEach((client) => saved.delete(client));
  }

  const openCard = (row) => open(row.sealed, placeOf(row.client)).catch(orIfDamaged(null));
  const remakeLater = (clients) => db.run(['cards', 'meta'], 'readwrite', (tx) => markStale(tx, clients));

  async function openAll() {
    const rows = await db.run(['cards'], 'readonly', (tx) => tx.objectStore('cards').getAll());
    const made = rows.filter((row) => row.sealed);
    const cards = await Promise.all(made.map(openCard));
    return {cards: cards.filter(Boolean), damaged: made.filter((_row, index) => !cards[index]).map(({client}) => client)};
  }

  // The screen, the badge and the look for changes ask in the same moment: whoever asked before the reading begins
  // shares it. Together they open some megabytes.
  function openTogether() {
    opening ??= new Promise((begin) => { setTimeout(begin); }).then(() => {
      opening = null;
      return openAll();
    });
    return opening;
  }

  async function all() {
    await bringUpToDate();
    const {cards, damaged} = await openTogether();
    if (!damaged.length) return [...cards];
    await remakeLater(damaged);
    await refresh();
    return (await openAll()).cards;
  }

  async function one(client) {
    await remake([client]);
    const row = await db.run(['cards'], 'readonly', (tx) => tx.objectStore('cards').get(client));
    if (!row?.sealed) return null;
    const card = await openCard(row);
    if (card) return card;
    await remakeLater([client]);
    return one(client);
  }

  /** A new projection makes every card anew. */
  const adopt = () => db.run(['cards', 'meta'], 'readwrite', (tx) => adoptVersion(tx, `${MARKS}/${projectVersion}`));

  return {all, one, refresh, follow, hurry, adopt};
}

async function material(tx, clients) {
  const {marks} = await staleIn(tx);
  return Promise.all(clients.filter((client) => marks.has(client)).map(async (client) => {
    const rows = await tx.objectStore('entries').index('client').getAll(client);
    return {client, mark: marks.get(client), entries: rows.filter((row) => !row.withdrawn)};
  }));
}

// A card made while its client changed is kept, for it is newer than the one before; its mark stays. One
// whose mark is gone was made by another window, one without a row belongs to a client who left.
async function putMade(tx, made) {
  const cards = tx.objectStore('cards');
  const [{marks}, keys] = await Promise.all([staleIn(tx), cards.getAllKeys()]);
  const here = new Set(keys);
  const wanted = made.filter(({client}) => marks.has(client) && here.has(client));
  await Promise.all(wanted.map(async ({client, sealed}) => cards.put({client, sealed})));
  await unmark(tx, made);
}

async function adoptVersion(tx, version) {
  const known = await tx.objectStore('meta').get(CARDS_MADE_BY);
  if (known?.value === version) return;
  await markStale(tx, await tx.objectStore('cards').getAllKeys());
  await tx.objectStore('meta').put({key: CARDS_MADE_BY, value: version});
}
