/** What this version can read: entries of a newer one are kept and named, never read as what they may not be. */
import {describedKinds, measures} from '../clinical/index.js';

const TITLES = {
  details: 'Details', contact: 'Contact', precaution: 'Precaution', target: 'Own target', visit_planned: 'Planned visit',
  visit_started: 'Visit begun', visit_conclusion: 'Conclusion', visit_finished: 'Visit finished', note: 'Note',
};
export const NEWER = 'Recorded by a newer version';

const known = (kind) => Object.hasOwn(TITLES, kind) || Object.hasOwn(describedKinds, kind);
const schemaOf = (kind) => measures[kind]?.schema ?? (known(kind) ? 1 : 0);

/** True for an entry whose kind or schema this version does not know. @param {{kind: string, schema: number}} entry */
export const isNewer = ({kind, schema}) => schema > schemaOf(kind);

/** @param {{kind: string, schema: number}} entry @returns {string} */
export const kindTitle = (entry) => (isNewer(entry) ? NEWER : (measures[entry.kind] ?? describedKinds[entry.kind])?.title ?? TITLES[entry.kind]);

/**
 * Entries as this version may use them. What a newer entry corrects is set aside with it: it no longer stands.
 * @param {object[]} entries of one client
 * @returns {{known: object[], newer: object[]}}
 */
export function sortByVersion(entries) {
  const byId = new Map(entries.map((entry) => [entry.id, entry]));
  const newer = new Set();
  for (let next of entries.filter(isNewer)) {
    while (next && !newer.has(next)) {
      newer.add(next);
      next = byId.get(next.amends ?? next.voids);
    }
  }
  return {known: entries.filter((entry) => !newer.has(entry)), newer: entries.filter(isNewer)};
}

/** A client's entries that this version can read. @param {object} store @param {string} client */
export const knownEntriesOf = async (store, client) => sortByVersion(await store.entriesOf(client)).known;
