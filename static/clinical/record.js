// The log resolved: which version of each entry stands, what was voided, which details disagree.
import { isObject, own } from './data.js';

/**
 * Compare two entries by the order of the log: by the server's number, then what waits on the device in
 * the device's own order.
 * @param {object} one
 * @param {object} other
 * @returns {number}
 */
export const byOrder = (one, other) => compareKeys(orderKey(one), orderKey(other));

function orderKey(entry) {
  const seq = entry.seq ?? null;
  return seq !== null ? [0, seq, '', ''] : [1, entry.device_seq || 0, String(entry.device || ''), entry.id];
}

function compareKeys(one, other) {
  const at = one.findIndex((part, index) => part !== other[index]);
  if (at < 0) return 0;
  return one[at] < other[at] ? -1 : 1;
}

/**
 * One item a chain, in the order the originals were recorded.
 * @param {object[]} entries
 * @returns {{root: string, entry: object, original: object|null, amended_by: object[],
 *   voided: object|null, amended_twice: boolean}[]}
 */
export function resolveEntries(entries) {
  const unique = new Map(entries.map((entry) => [entry.id, entry]));
  const chains = new Map();
  for (const entry of [...unique.values()].sort(byOrder)) {
    const root = rootOf(entry, unique);
    if (!chains.has(root)) chains.set(root, []);
    chains.get(root).push(entry);
  }
  const resolved = [...chains].map(([root, links]) => chainOf(root, links));
  return resolved.sort((one, other) => compareKeys(recordedKey(one), recordedKey(other)));
}

const linkOf = (entry) => entry.amends || entry.voids || null;

function rootOf(entry, entries) {
  const seen = new Set();
  let at = entry.id;
  // A loop can only come from a broken device; it ends at the smallest id, the same on every device.
  while (entries.has(at) && linkOf(entries.get(at)) && !seen.has(at)) {
    seen.add(at);
    at = linkOf(entries.get(at));
  }
  return seen.has(at) ? [...seen].sort()[0] : at;
}

function chainOf(root, links) {
  const named = new Set(links.map(linkOf));
  const changes = links.filter((entry) => entry.id !== root || linkOf(entry));
  const amendments = changes.filter((entry) => !entry.voids);
  const leaves = changes.filter((entry) => !named.has(entry.id));
  // A void stands beside later amendments that had not seen it; only amending the void itself lifts it.
  const voids = leaves.filter((entry) => entry.voids);
  const original = links.find((entry) => entry.id === root && !linkOf(entry)) ?? null;
  const live = leaves.filter((entry) => !entry.voids);
  return {
    root,
    entry: (live.length ? live : amendments).at(-1) ?? original ?? links.at(-1),
    original,
    amended_by: amendments,
    voided: voids.at(-1) ?? null,
    amended_twice: leaves.length > 1,
  };
}

function recordedKey(chain) {
  const first = chain.original ?? chain.entry;
  return [String(first.recorded_at || ''), ...orderKey(first)];
}

/**
 * When the thing was first recorded: amending a reading does not move it in time.
 * @param {object} chain
 * @returns {string}
 */
export const measuredAt = (chain) => String((chain.original ?? chain.entry).recorded_at || '');

const MINUTE = 60000;

/**
 * The day on which that was, where it was recorded: near midnight the universal day is another.
 * @param {object} chain
 * @returns {string} an ISO date, empty where the moment is none
 */
export function measuredOn(chain) {
  const { recorded_at: at, utc_offset: offset } = chain.original ?? chain.entry;
  const moment = Date.parse(at);
  return Number.isNaN(moment) ? '' : new Date(moment + (offset || 0) * MINUTE).toISOString().slice(0, 10);
}

/**
 * The chains that are not voided, of one kind or of all.
 * @param {object[]} chains as resolveEntries gives them
 * @param {string} [kind]
 * @returns {object[]}
 */
export const standing = (chains, kind) =>
  chains.filter((chain) => !chain.voided && (kind === undefined || chain.entry.kind === kind));

/**
 * The details that stand, the fields on which two entries disagree, and what a new entry has to name as seen.
 * @param {object[]} all chains as resolveEntries gives them
 * @returns {{details: object, disagreements: object[], seen: Object<string, string[]>}}
 */
export function resolveDetails(all) {
  const { fields, ...known } = resolveFields(standing(all, 'details'), versionRoots(all));
  return { details: fields, ...known };
}

/**
 * For every version of every chain the id of its root.
 * @param {object[]} all chains as resolveEntries gives them
 * @returns {Map<string, string>}
 */
export const versionRoots = (all) => new Map(all.flatMap((chain) => versions(chain).map(({ id }) => [id, chain.root])));

/**
 * The fields that stand among chains that set fields.
 * A value stands until a later entry that had seen it sets the field again. Two that had not seen each
 * other and differ disagree: both are kept; the later in the log's order is shown first.
 * @param {object[]} chains
 * @param {Map<string, string>} roots
 * @returns {{fields: object, disagreements: object[], seen: Object<string, string[]>}}
 */
export function resolveFields(chains, roots) {
  const known = { fields: {}, disagreements: [], seen: {} };
  for (const field of [...new Set(chains.flatMap((chain) => Object.keys(setOf(chain))))].sort()) {
    const heads = headsOf(field, chains.filter((chain) => Object.hasOwn(setOf(chain), field)), roots);
    const values = heads.map((head) => setOf(head)[field]);
    known.fields[field] = values.at(-1);
    known.seen[field] = heads.map((head) => head.entry.id);
    if (values.some((value) => plainly(value) !== plainly(values.at(-1)))) {
      known.disagreements.push({ field, options: heads.toReversed().map((head) => optionOf(field, head)) });
    }
  }
  return known;
}

// The same whatever the order of an object's keys.
const plainly = (value) => JSON.stringify(isObject(value) ? Object.entries(value).sort() : value);

const versions = (chain) => [chain.original, ...chain.amended_by, chain.voided].filter(Boolean);
const setOf = (chain) => chain.entry.body.set ?? {};

// The chains whose value of the field nobody has seen and replaced, in the log's order.
function headsOf(field, chains, roots) {
  const replaced = new Set();
  for (const chain of chains) {
    for (const one of own(chain.entry.body.seen, field) ?? []) {
      const root = roots.get(one) ?? one;
      if (root !== chain.root) replaced.add(root);
    }
  }
  const heads = chains.filter((chain) => !replaced.has(chain.root));
  return (heads.length ? heads : chains.slice(-1)).toSorted((one, other) => byOrder(one.entry, other.entry));
}

function optionOf(field, { entry }) {
  const { author = null, recorded_at = null } = entry;
  return { value: entry.body.set[field], entry: entry.id, author, recorded_at };
}
