// Daily life: how each activity goes now, against the visit before, and the picture by chapter.
import { data } from './data.js';
import { describedItems, observationsByItem } from './described.js';

/** The qualifiers that stand for a share of difficulty, from none to all of it. */
export const degrees = data.activities.qualifiers.filter((each) => each.percent).map(({ id }) => id);

/**
 * The ICF qualifier of a share of difficulty in whole percent, null outside 0 to 100.
 * @param {number} percent
 * @returns {string|null}
 */
export function qualifierOf(percent) {
  const inside = ({ percent: band }) => band && Number(band.low) <= percent && percent <= Number(band.high);
  return data.activities.qualifiers.find(inside)?.id ?? null;
}

/**
 * Better, worse or the same; not comparable with 8 or 9; null when one of the two is missing.
 * @param {string|null} before
 * @param {string|null} now
 * @returns {string|null}
 */
export function compareRatings(before, now) {
  if (before === null || now === null) return null;
  if (!degrees.includes(before) || !degrees.includes(now)) return 'not_comparable';
  const steps = degrees.indexOf(now) - degrees.indexOf(before);
  return steps < 0 ? 'better' : steps > 0 ? 'worse' : 'same';
}

/**
 * The activities and their chapters as of a visit, or with visit null as it is known last.
 * @param {object[]} entries
 * @param {string|null} visit
 * @returns {{activities: object[], chapters: object[]}}
 */
export function dailyLife(entries, visit) {
  const ratings = observationsByItem(entries, 'activity_rating');
  const rows = describedItems(entries, 'activity').map((item) => activityOf(item, ratings.get(item.item) ?? [], visit))
    .filter((row) => !row.fields.ended || row.now);
  const order = data.activities.chapters.map(({ id }) => id);
  const place = (row) => (order.includes(row.chapter) ? order.indexOf(row.chapter) : order.length);
  rows.sort((one, other) => place(one) - place(other));
  return { activities: rows, chapters: chaptersOf(rows) };
}

/**
 * The chapter of an activity code: its letter and first digit.
 * @param {string|undefined} code
 * @returns {string}
 */
export const chapterOf = (code) => (code ?? '').slice(0, 2);

function activityOf(item, ratings, visit) {
  const { now, before } = nowAndBefore(ratings, visit);
  return { ...item, chapter: chapterOf(item.fields.code), now, before, change: compareRatings(difficulty(before), difficulty(now)) };
}

/**
 * Of observations, oldest first, the one of the visit (or the last) and the last of an earlier visit.
 * @param {object[]} found
 * @param {string|null} visit
 * @returns {{now: object|null, before: object|null}}
 */
export function nowAndBefore(found, visit) {
  const now = found.filter((each) => visit === null || each.visit === visit).at(-1) ?? null;
  const its = now ? now.visit : visit;
  const at = found.findIndex((each) => each.visit === its);
  const earlier = (at < 0 ? found : found.slice(0, at)).filter((each) => each !== now);
  return { now, before: earlier.at(-1) ?? null };
}

const difficulty = (rating) => rating?.fields.difficulty ?? null;

function chaptersOf(rows) {
  return data.activities.chapters.flatMap(({ id, label }) => {
    const own = rows.filter((row) => row.chapter === id);
    if (own.length === 0) return [];
    const changes = Object.keys(data.activities.compared).map((name) => [name, own.filter((row) => row.change === name).length]);
    return [{ chapter: id, label, count: own.length, now: counts(own.map((row) => difficulty(row.now))),
      before: counts(own.map((row) => difficulty(row.before))), ...Object.fromEntries(changes) }];
  });
}

const counts = (difficulties) =>
  Object.fromEntries(data.activities.qualifiers.map(({ id }) => [id, difficulties.filter((each) => each === id).length]));
