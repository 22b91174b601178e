// What a client's entries say about care in time: visits, reassessments, written days, pauses, discharges.
// None of it depends on today, so it can be kept and asked again on another day.
import { data } from './data.js';
import { dayIn, isDay } from './days.js';
import { describedKinds, itemsAmong } from './described.js';
import { measuredOn, resolveEntries, standing, versionRoots } from './record.js';

/**
 * The facts dueItems counts from, all days as ISO text.
 * A day is the local one where the entry was recorded; `zone` serves entries that do not tell their offset.
 * What was recorded at a visit belongs to the visit's day, also when it was written after midnight.
 * @param {object[]} entries of one client
 * @param {string|null} [zone]
 * @returns {object}
 */
export function careFacts(entries, zone) {
  const chains = resolveEntries(entries);
  const held = heldDays(chains, zone);
  const roots = new Map(chains.map((chain) => [chain.root, dayOf(chain, held, zone)]));
  const days = new Map([...roots, ...[...versionRoots(chains)].map(([id, root]) => [id, roots.get(root)])]);
  return {
    held,
    visits: Object.values(held).sort(),
    planned: plannedDays(chains, held),
    done: whatWasDone(chains, days),
    reviews: reviewDays(chains, days),
    written: writtenDays(chains, days),
    pauses: spans(chains, 'pause', 'from', 'to'),
    discharges: spans(chains, 'discharge', 'day', 'reopened'),
    put_off: putOff(chains, days),
    own_rules: ownRules(chains),
    client_rules: itemsAmong(chains, 'client_rules')[0]?.fields ?? {},
    changes: [],
  };
}

// The day of every visit that began.
function heldDays(chains, zone) {
  const days = standing(chains, 'visit_started').map((chain) => [chain.entry.visit, ownDay(chain, zone)]);
  return Object.fromEntries(days.filter(([visit, day]) => visit && day));
}

function ownDay(chain, zone) {
  const { recorded_at: at, utc_offset: offset } = chain.original ?? chain.entry;
  return zone && (offset ?? null) === null && at ? dayIn(at, zone) : measuredOn(chain);
}

const dayOf = (chain, held, zone) => (Object.hasOwn(held, chain.entry.visit ?? '') ? held[chain.entry.visit] : ownDay(chain, zone));

// The days of the visits that are planned and have not begun.
const plannedDays = (chains, held) =>
  standing(chains, 'visit_planned').filter(({ entry }) => !Object.hasOwn(held, entry.visit ?? ''))
    .map(({ entry }) => entry.body.date).filter(isDay).sort();

// What was reassessed on which day, the oldest first; a plan looked at again counts for some rules.
function whatWasDone(chains, days) {
  const found = standing(chains).map(({ root, entry }) => ({ day: days.get(root), how: howOf(entry) }));
  return byDay(found.filter(({ day, how }) => day && how), 'day');
}

function howOf({ kind, body }) {
  if (kind === 'reassessed') return body.fields?.scope ?? null;
  return kind === 'plan_review' ? 'plan_review' : null;
}

const byDay = (found, name) => found.toSorted((one, other) => (one[name] < other[name] ? -1 : one[name] > other[name] ? 1 : 0));

// The days on which each item was reviewed.
function reviewDays(chains, days) {
  const found = {};
  for (const kind of [...new Set(dayRules().map((rule) => rule.reviewed_by).filter(Boolean))].sort()) {
    for (const { root, entry } of standing(chains, kind)) (found[entry.body.about || ''] ??= []).push(days.get(root));
  }
  return found;
}

const dayRules = () => data.reassessment.rules.filter(({ type }) => type === 'written_day');

// The days written in the record by "kind.field", each with the day on which it was written.
function writtenDays(chains, days) {
  const fields = [...dayRules().map(({ kind, field }) => [kind, field]), ['care_period', 'starts_on']];
  return Object.fromEntries(fields.map(([kind, field]) => [`${kind}.${field}`, daysOf(chains, kind, field, days)]));
}

function daysOf(chains, kind, field, days) {
  const single = describedKinds[kind].shape === 'single';
  const found = itemsAmong(chains, kind).filter(({ fields }) => !fields.ended).map(({ item, fields, seen }) => ({
    about: single ? null : item,
    name: single ? null : fields.name ?? null,
    day: fields[field] ?? null,
    set_on: (seen[field] ?? []).map((one) => days.get(one)).sort().at(-1) ?? '',
    reason: fields.reason ?? null,
  }));
  return found.filter((each) => isDay(each.day) && isDay(each.set_on));
}

// The pauses or discharges in order: the day each began, the day it ended or null, and why.
function spans(chains, kind, begin, end) {
  const found = itemsAmong(chains, kind).filter(({ fields }) => isDay(fields[begin])).map(({ fields }) => ({
    [begin]: fields[begin], [end]: isDay(fields.ended?.day) ? fields.ended.day : null, reason: fields.reason ?? null,
  }));
  return byDay(found, begin);
}

function putOff(chains, days) {
  const found = standing(chains, 'postponement').map(({ root, entry: { id, body } }) => {
    const { due = null, until = null, reason = null } = body.fields ?? {};
    return { due, until, reason, day: days.get(root), entry: id };
  });
  return found.filter(({ until }) => isDay(until));
}

const ownRules = (chains) =>
  itemsAmong(chains, 'reassessment_rule').filter(({ fields }) => !fields.ended).map(({ item, fields }) => ({ item, ...fields }));
