/** The number on the app's icon: what is due or overdue in one's own caseload. A number, never a name. */
import {watchToday} from '../use_today.js';
import {localDate} from '../format.js';
import {badgeCount, dueLines} from './due.js';

/**
 * Keeps the badge while the app is unlocked; locked or closed, the last number stays.
 * @param {object} parts
 * @param {object} parts.store  @param {object} parts.settings  @param {{of: Function}} parts.changes
 * @param {Navigator} [parts.browser]  @param {() => string} [parts.today]
 * @param {(tell: () => void) => () => void} [parts.days] calls back with each new day
 * @returns {{show: () => Promise<void>, stop: () => void}}
 */
export function keepBadge({store, settings, changes, browser = navigator, today = () => localDate(new Date()), days = watchToday}) {
  if (!browser.setAppBadge) return {show: async () => {}, stop: () => {}};
  let shown = null;
  let showing = Promise.resolve();
  let stopped = false;
  const show = () => {
    showing = showing.then(count).then((number) => put(number), () => {});  // locked meanwhile: the next start counts
    return showing;
  };
  async function count() {
    const [cards, cursor] = await Promise.all([store.cards(), store.cursor()]);
    const others = new Set(cursor.caseload?.read_only ?? []);
    return badgeCount(dueLines(cards.filter(({client}) => !others.has(client)), settings, today(), changes.of));
  }
  async function put(number) {
    if (stopped || number === shown) return;
    shown = number;
    await (number > 0 ? browser.setAppBadge(number) : browser.clearAppBadge()).catch(() => {});  // not installed
  }
  const unsubscribe = store.subscribe(({type}) => { if (type === 'saved' || type === 'cards') show(); });
  const stopDays = days(() => show());
  show();
  return {
    show,
    stop() {
      stopped = true;
      unsubscribe();
      stopDays();
    },
  };
}

/** Nobody is signed in here any more. @param {Navigator} [browser] */
export const clearBadge = (browser = navigator) => browser.clearAppBadge?.().catch(() => {});
