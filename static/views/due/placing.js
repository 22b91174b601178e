/** Placing a reassessment into a day's round: what the visit says, what is wrong with what was typed. No screen here. */
import {isDay, isWorking, plusDays} from '../../clinical/index.js';
import {uuid7} from '../../sync/messages.js';
import {itemTitle} from './words.js';

const LONGEST_PURPOSE = 2000;  // of the entry's body
const MINUTES = {low: 5, high: 600};
const NEAR = 14;  // our choice: how far ahead a working day is looked for

/** The day to begin with: the day it is due, or the next working day when that has gone by. */
export function firstDay(item, calendar) {
  const {today} = calendar;
  if (item?.due && item.due >= today) return item.due;
  const days = Array.from({length: NEAR}, (_, step) => plusDays(today, step));
  return days.find((day) => isWorking(day, calendar)) ?? today;
}

/** What the visit is for, in the words of its purpose. @param {object[]} items that are to be settled */
export const reasonFor = (items) => `To be done: ${items.map(itemTitle).join(', ') || 'reassessment'}`;

/**
 * The entry of a visit yet to be made, or the field that is wrong and why.
 * @param {{date: string, time: string, minutes: string, purpose: string}} typed
 * @param {{client: string, today: string, therapist: string}} place
 * @returns {{draft?: object, problem?: {field: string, message: string}}}
 */
export function visitFrom({date, time, minutes, purpose}, {client, today, therapist}) {
  if (!isDay(date)) return {problem: {field: 'date', message: 'Choose a day.'}};
  if (date < today) return {problem: {field: 'date', message: 'This day has gone by. Choose today or a later one.'}};
  if (!/^([01]\d|2[0-3]):[0-5]\d$/.test(time)) return {problem: {field: 'time', message: 'Choose a time, such as 09:30.'}};
  const length = /^\d{1,4}$/.test(minutes.trim()) ? Number(minutes) : NaN;
  if (!(length >= MINUTES.low && length <= MINUTES.high)) {
    return {problem: {field: 'minutes', message: `Write a whole number of minutes from ${MINUTES.low} to ${MINUTES.high}.`}};
  }
  const told = purpose.trim();
  if ([...told].length > LONGEST_PURPOSE) return {problem: {field: 'purpose', message: `This is longer than ${LONGEST_PURPOSE} characters. Shorten it.`}};
  const body = {date, time, minutes: length, purpose: told || null, therapist};
  return {draft: {kind: 'visit_planned', schema: 1, client, visit: uuid7(), body}};
}

/** The change of a planned visit that now also is for this. @param {object} visit of a card @param {string} reason */
export function visitWith(visit, client, reason) {
  const {id, body} = visit.planned;
  const purpose = [body.purpose?.replace(/[. ]+$/, ''), reason].filter(Boolean).join('. ').slice(0, LONGEST_PURPOSE);
  return {kind: 'visit_planned', schema: 1, client, visit: visit.visit, amends: id, reason: 'A reassessment was placed into this visit.', body: {...body, purpose}};
}

/** Whether a planned visit says so already. @param {object} visit @param {string} reason */
export const saysSo = (visit, reason) => (visit.planned.body.purpose ?? '').includes(reason);
