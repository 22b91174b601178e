/** Real changes at visits, which call for a reassessment sooner. Judging every visit is slow on an old phone: it is
    done client by client when nothing else waits, kept sealed, and done again only for a client with new entries. */
import {careFacts, changesOf, rulesInForce} from '../../clinical/index.js';
import {knownEntriesOf} from '../kinds.js';
import {signatureOf} from './due.js';

const KEPT = 'due_changes';
const SETTLES_AFTER = 1500;  // our choice: a visit's saves follow each other; one look after the last is enough

/**
 * @param {object} parts
 * @param {object} parts.store  @param {object} parts.settings of the service, kept up to date
 * @param {{setTimeout: Function, clearTimeout: Function}} [parts.timers]
 * @returns {{of: (client: string) => object[], begin: () => Promise<void>, stop: () => void, look: () => Promise<boolean>}}
 */
export function keepChanges({store, settings, timers = globalThis}) {
  let kept = {rules: '', clients: {}};
  let timer = null;
  let stopped = false;
  let looking = Promise.resolve(false);

  const rulesNow = () => JSON.stringify(settings.reassessment ?? {});
  const plan = () => {
    timers.clearTimeout(timer);
    timer = timers.setTimeout(() => look().catch(() => {}), SETTLES_AFTER);  // locked meanwhile: the next start looks
  };
  const unsubscribe = store.subscribe(({type}) => { if (type === 'saved' || type === 'cards') plan(); });

  function look() {
    looking = looking.catch(() => {}).then(lookOnce);
    return looking;
  }

  async function lookOnce() {
    const rules = rulesNow();
    if (kept.rules !== rules) kept = {rules, clients: {}};
    const cards = await store.cards();
    const stale = cards.filter(({client, signature}) => kept.clients[client]?.of !== signature);
    for (const card of stale) {
      await breath(timers);
      if (stopped) return false;
      kept.clients[card.client] = {of: card.signature, changes: await changesNow(store, settings, card.client)};
    }
    if (!stale.length || stopped) return false;
    const here = new Set(cards.map(({client}) => client));
    kept.clients = Object.fromEntries(Object.entries(kept.clients).filter(([client]) => here.has(client)));
    await store.setMeta(KEPT, kept).catch(() => {});  // a full phone: it is worked out anew at the next start
    await store.refreshCards();  // so that every screen looks again
    return true;
  }

  return {
    of: (client) => kept.clients[client]?.changes ?? [],
    async begin() {
      const before = await store.meta(KEPT);
      if (before?.clients) kept = before;
      plan();
    },
    look,
    stop() {
      stopped = true;
      timers.clearTimeout(timer);
      unsubscribe();
    },
  };
}

const breath = (timers) => new Promise((resolve) => { timers.setTimeout(resolve, 0); });

async function changesNow(store, settings, client) {
  const entries = await knownEntriesOf(store, client);
  const facts = careFacts(entries, settings.calendar?.zone);
  return changesOf(entries, facts, rulesInForce(settings.reassessment, facts)).map(({day, title}) => ({day, title}));
}

/** What a card carries for this: facts that do not depend on today, and the sum that tells of new entries. */
export const careOf = (entries, zone) => ({care: careFacts(entries, zone), signature: signatureOf(entries)});
