// After a restore: hands back what others recorded and the new log lacks. In requests of its own, when all else is
// done: it never stands in the way of what was recorded here.
import {lessMayHelp} from './exchange.js';
import {groupsOf} from './groups.js';
import {MAX_ITEMS, MAX_PUSH_BYTES} from './messages.js';

const ENVELOPE = 4096;  // room for what surrounds the entries

/**
 * @param {object} store
 * @param {(returned: object[]) => Promise<{answer: object|null, kind: string, result: object|null}>} exchange makes
 *   one request with these groups and files its answer
 * @returns {Promise<{result: object|null, taken: number}>} why it stopped early, if it did, and how many are in the log
 */
export async function giveBack(store, exchange) {
  const tried = new Set();
  let [items, taken] = [MAX_ITEMS, 0];
  for (;;) {
    const returned = await toHandBack(store, {items, without: tried});
    const sent = returned.flatMap(({entries}) => entries);
    if (!sent.length) return {result: null, taken};
    const {answer, kind, result} = await exchange(returned);
    if (answer && !answer.returned) return {result: null, taken};  // an older server: it is kept, and asked again next time
    if (answer) {
      for (const {id} of sent) tried.add(id);
      taken += answer.returned.filter(({verdict}) => ['applied', 'duplicate'].includes(verdict)).length;
    } else if (!lessMayHelp(kind)) {
      return {result, taken};
    } else if (sent.length > 1) {
      items = Math.floor(sent.length / 2);
    } else {
      tried.add(sent[0].id);
    }
  }
}

/** The next groups to hand back; none while the log is still being read. */
export async function toHandBack(store, {items = MAX_ITEMS, without = new Set()} = {}) {
  if ((await store.cursor()).sweep) return [];
  const lost = await store.lost({limit: items, without});
  const receipts = await store.receiptsFor(lost.map(({id}) => id));
  return groupsOf(lost, receipts, {items, bytes: MAX_PUSH_BYTES - ENVELOPE});
}
