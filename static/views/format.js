/** Dates, ages and figures as a person says them. Locale: the browser's own, in short words. */

const LOCALE = 'en-GB';
const DAY = {weekday: 'short', day: 'numeric', month: 'short'};

/** The device's local date as YYYY-MM-DD. @param {Date} moment */
export function localDate(moment) {
  const two = (number) => String(number).padStart(2, '0');
  return `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
}

/** "Tue 3 Mar", with the year when it is not this one. @param {string} date YYYY-MM-DD */
export function sayDate(date) {
  const [year, month, day] = date.split('-').map(Number);
  // Noon UTC keeps a date-only value on its own day in every time zone.
  const moment = new Date(Date.UTC(year, month - 1, day, 12));
  const thisYear = new Date().getFullYear() === year;
  return moment.toLocaleDateString(LOCALE, {...DAY, ...(thisYear ? {} : {year: 'numeric'}), timeZone: 'UTC'});
}

/** "9:40" @param {Date} moment */
export function sayClock(moment) {
  return `${moment.getHours()}:${String(moment.getMinutes()).padStart(2, '0')}`;
}

/**
 * "Tue 3 Mar, 9:40" at the clock of the place where it was recorded.
 * @param {string} recordedAt UTC instant  @param {number} [offset] minutes east of UTC at the place
 */
export function sayMoment(recordedAt, offset) {
  const there = clockThere(recordedAt, offset);
  return `${sayDate(there.slice(0, 10))}, ${there.slice(11, 16).replace(/^0/, '')}`;
}

/** "Tue 3 Mar" at the place where it was recorded. @param {string} recordedAt @param {number} [offset] */
export function sayDay(recordedAt, offset) {
  return sayDate(clockThere(recordedAt, offset).slice(0, 10));
}

function clockThere(recordedAt, offset = -new Date(recordedAt).getTimezoneOffset()) {
  return new Date(Date.parse(recordedAt) + offset * 60000).toISOString();
}

/** "09:30" as "9:30" @param {string} time */
export function sayTime(time) {
  return time.replace(/^0(?=\d:)/, '');
}

/** "1 visit", "3 visits" @param {number} count @param {string} one @param {string} [many] */
export function sayCount(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}
