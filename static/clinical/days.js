// Days of the calendar as ISO text: arithmetic without hours, so that no change of the clock can move one.
import { data } from './data.js';

const DAY = 86_400_000;
const numberOf = (day) => Date.parse(`${day}T00:00:00Z`) / DAY;
const FIRST = numberOf('0001-01-01');
const LAST = numberOf('9999-12-31');

/**
 * Whether a value is a day of the calendar such as "2028-02-29".
 * @param {unknown} value
 * @returns {boolean}
 */
export function isDay(value) {
  if (typeof value !== 'string' || !/^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(value) || value.startsWith('0000')) return false;
  const moment = new Date(`${value}T00:00:00Z`);
  return !Number.isNaN(moment.valueOf()) && moment.toISOString().startsWith(value);
}

/**
 * The day so many days later; the calendar ends with the year 9999.
 * @param {string} day
 * @param {number} count
 * @returns {string}
 */
export const plusDays = (day, count) =>
  new Date(Math.min(Math.max(numberOf(day) + count, FIRST), LAST) * DAY).toISOString().slice(0, 10);

/**
 * How many days the second day is after the first.
 * @param {string} start
 * @param {string} end
 * @returns {number}
 */
export const daysFrom = (start, end) => numberOf(end) - numberOf(start);

/**
 * The day in a time zone ("Europe/Dublin") at a moment in UTC; a RangeError for an unknown zone or moment.
 * @param {string} moment
 * @param {string} zone
 * @returns {string}
 */
export function dayIn(moment, zone) {
  const shape = { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit' };
  const parts = new Intl.DateTimeFormat('en-u-ca-gregory-nu-latn', shape).formatToParts(new Date(moment));
  const part = (type) => parts.find((each) => each.type === type).value;
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`;
}

/**
 * Whether work is done on a day: neither one of `weekend` (Monday is 1) nor of `holidays`.
 * @param {string} day
 * @param {{weekend?: number[], holidays?: string[]}} calendar
 * @returns {boolean}
 */
export function isWorking(day, { weekend, holidays }) {
  const weekday = new Date(`${day}T00:00:00Z`).getUTCDay() || 7;
  return !(weekend ?? []).includes(weekday) && !(holidays ?? []).includes(day);
}

/**
 * The day in words: "1 July 2026".
 * @param {string} day
 * @returns {string}
 */
export function sayDay(day) {
  const [year, month, number] = day.split('-').map(Number);
  return `${number} ${data.reassessment.months[month - 1]} ${year}`;
}
