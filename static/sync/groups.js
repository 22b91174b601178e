// What a request hands back: entries with the receipts that prove them, within its limits. Pure.
import {MAX_COVERED} from './messages.js';

const utf8 = new TextEncoder();

/**
 * The first entries, each with the newest receipt that covers it; a group for each receipt, one for none.
 * @param {object[]} entries
 * @param {{receipt: string, ids: string[], hashes: string[]}[]} receipts the oldest first
 * @param {{items: number, bytes: number}} limit
 * @returns {{receipt: string|null, covers: string[], entries: object[]}[]}
 */
export function groupsOf(entries, receipts, {items, bytes}) {
  const proofs = new Map(receipts.flatMap((receipt) => receipt.ids.map((id) => [id, receipt])));
  const groups = new Map();
  let [count, left, covered] = [0, bytes, 0];
  for (const entry of entries) {
    const proof = proofs.get(entry.id) ?? null;
    left -= utf8.encode(JSON.stringify(entry)).length + 1;
    covered += groups.has(proof) ? 0 : proof?.hashes.length ?? 0;
    if (count === items || (count > 0 && (left < 0 || covered > MAX_COVERED))) break;
    if (!groups.has(proof)) groups.set(proof, []);
    groups.get(proof).push(entry);
    count += 1;
  }
  return [...groups].map(([proof, group]) => (
    {receipt: proof?.receipt ?? null, covers: proof?.hashes ?? [], entries: group}));
}
