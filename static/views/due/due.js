/** What is due, from the clients' cards, the service's settings and the day. No screen here. */
import {daysFrom, dueItems, plusDays} from '../../clinical/index.js';
import {visitState} from '../planned.js';

const URGENCY = ['overdue', 'due', 'open', 'later', 'waiting', 'away'];
/** What is worth a word on the round and a place in a visit. */
const NOW = new Set(['overdue', 'due', 'open']);

/** The calendar of the service on a day. @param {object} settings @param {string} today */
export const calendarOf = ({calendar}, today) => ({...calendar, today});

/**
 * What is due for the client of a card.
 * @param {object} card with `care` as careFacts gives it
 * @param {object} settings of the service @param {string} today
 * @param {object[]} [changes] as changesOf gives them
 * @returns {{items: object[], away: object|null, discharged: object|null, unusable: string[]}}
 */
export function dueOf(card, settings, today, changes = []) {
  return dueItems({...card.care, changes}, calendarOf(settings, today), settings.reassessment);
}

/** The item to speak of first: the most urgent, then the earliest. @param {object[]} items */
export const firstOf = (items) => [...items].sort((one, other) => rank(one) - rank(other))[0] ?? null;

const rank = ({state}) => URGENCY.indexOf(state);

/** Whether to speak of an item today. @param {object} item */
export const isNow = ({state}) => NOW.has(state);

/** Whether an item counts on the app's badge. @param {object} item */
export const counts = ({state}) => state === 'overdue' || state === 'due';

/**
 * One line for each item of each client, in the order of the days.
 * @param {object[]} cards @param {object} settings @param {string} today
 * @param {(client: string) => object[]} [changesFor]
 * @returns {{card: object, item: object, visit: object|null}[]} with the next visit that is planned
 */
export function dueLines(cards, settings, today, changesFor = () => []) {
  return cards.flatMap((card) => {
    const {items} = dueOf(card, settings, today, changesFor(card.client));
    const [visit = null] = plannedVisits(card, today);
    return items.map((item) => ({card, item, visit}));
  }).sort((one, other) => compare(dayOf(one.item), dayOf(other.item)) || compare(one.card.name ?? '', other.card.name ?? ''));
}

/** The day that governs: putting off a legal limit does not move it. */
const dayOf = ({due, limit}) => [due ?? LAST, limit ?? LAST].sort()[0];

const LAST = '9999-12-31';
const compare = (one, other) => (one < other ? -1 : one > other ? 1 : 0);

/** Visits that are planned for today or later and have not begun, the next first. @param {object} card @param {string} today */
export function plannedVisits(card, today) {
  return card.visits.filter((visit) => visit.planned && visitState(visit) === 'planned' && visit.date >= today)
    .sort((one, other) => compare(`${one.date} ${one.planned.body.time}`, `${other.date} ${other.planned.body.time}`));
}

/** How many count on the badge. @param {{item: object}[]} lines */
export const badgeCount = (lines) => lines.filter(({item}) => counts(item)).length;

/**
 * The lines by week, overdue first; what has no day, and who is away, last.
 * @param {{item: object}[]} lines @param {string} today
 * @returns {{id: string, title: 'overdue'|'week'|'next_week'|'of'|'waiting'|'away', monday?: string, lines: object[]}[]}
 */
export function byWeek(lines, today) {
  const groups = new Map();
  for (const line of lines) {
    const group = groupOf(line.item, today);
    if (!groups.has(group.id)) groups.set(group.id, {...group, lines: []});
    groups.get(group.id).lines.push(line);
  }
  return [...groups.values()].sort((one, other) => compare(one.id, other.id));
}

// The ids sort as the groups stand.
function groupOf(item, today) {
  const {state, due} = item;
  if (state === 'overdue') return {id: '0', title: 'overdue'};
  if (state === 'away') return {id: '9', title: 'away'};
  if (due === null) return {id: '8', title: 'waiting'};
  const monday = mondayOf(dayOf(item) > today ? dayOf(item) : today);  // a day gone by within its limit is still to do
  const weeks = daysFrom(mondayOf(today), monday) / 7;
  return {id: `1 ${monday}`, title: ['week', 'next_week'][weeks] ?? 'of', monday};
}

/** The Monday of a day's week (ISO 8601). @param {string} day */
export const mondayOf = (day) => plusDays(day, -((new Date(`${day}T00:00:00Z`).getUTCDay() + 6) % 7));

/** A sum over the ids of entries: another when any is added, withdrawn or changed. @param {object[]} entries */
export function signatureOf(entries) {
  let sum = 0;
  for (const {id} of entries) {
    let one = 0x811c9dc5;  // FNV-1a; the sum does not mind the order
    for (let at = 0; at < id.length; at += 1) one = Math.imul(one ^ id.charCodeAt(at), 0x01000193);
    sum = (sum + one) | 0;
  }
  return `${entries.length}:${sum}`;
}
