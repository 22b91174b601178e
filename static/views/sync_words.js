/** The state of sync in one sentence. Pure, so that every wording can be tested. */
import {localDate, sayClock, sayCount, sayMoment} from './format.js';

const HOUR = 60 * 60 * 1000;
// Our choice: what a day's end has not sent stands on one phone only, overnight.
const LATE_AFTER = 24 * HOUR;

/**
 * @param {{phase: string, lastSyncedAt: string|null, waiting: number, held: number, oldest?: string|null,
 *   revoked?: boolean, progress?: {share: number, clients: number}|null}} status
 * @param {number} [now]
 * @returns {{words: string, attention: boolean, late: boolean}} late: something has waited for a day
 */
export function syncSentence({revoked = false, ...status}, now = Date.now()) {
  const {phase, held, waiting} = status;
  const parts = [revoked && 'Withdrawn', held && `${held} ${held === 1 ? 'needs' : 'need'} attention`,
    waiting && waitingWords(status, now), PERSONS_TURN[phase]];
  const said = parts.filter(Boolean);
  const attention = revoked || held > 0 || phase === 'sign_in';
  return {words: said.join(' · ') || quietWords(status, now), attention, late: !revoked && isLate(status, now)};
}

const PERSONS_TURN = {sign_in: 'sign in to sync', update: 'update the app to sync'};

const isLate = ({waiting, oldest = null}, now) => waiting > 0 && oldest !== null && now - Date.parse(oldest) >= LATE_AFTER;

function waitingWords({phase, waiting, oldest = null}, now) {
  if (phase === 'syncing') return `sending ${waiting}`;
  const age = oldest === null ? null : ageWords(now - Date.parse(oldest));
  if (!age) return `${waiting} not sent yet`;
  return `${waiting} not sent yet, ${waiting === 1 ? '' : 'the oldest '}for ${age}`;
}

/** "5 hours", "2 days"; null below an hour. @param {number} milliseconds */
function ageWords(milliseconds) {
  const hours = Math.floor(milliseconds / HOUR);
  if (hours < 1) return null;
  return hours < 24 ? sayCount(hours, 'hour') : sayCount(Math.floor(hours / 24), 'day');
}

/** Nothing waits and nobody is asked for anything. */
function quietWords({phase, lastSyncedAt, progress = null}, now) {
  const synced = lastSyncedAt && sayWhen(lastSyncedAt, now);
  if (phase === 'syncing') return progress ? progressWords(progress) : 'Syncing';
  if (phase === 'offline') return synced ? `No connection, synced ${synced}` : 'No connection';
  if (phase === 'error') return 'The server has a problem, trying again';
  return synced ? `All synced ${synced}` : 'Not synced yet';
}

/** "at 9:05" today, "Tue 24 Nov, 9:05" before. @param {string} iso @param {number} now */
export function sayWhen(iso, now = Date.now()) {
  const moment = new Date(iso);
  return localDate(moment) === localDate(new Date(now)) ? `at ${sayClock(moment)}` : sayMoment(iso);
}

/** In tens, so that a screen reader is not told of every page. @param {{share: number, clients: number}} progress */
export function progressWords({share, clients}) {
  if (share < 1) return `Receiving the record, ${Math.floor(share * 10) * 10} %`;
  return `Receiving the record, ${sayCount(clients, 'client')} to go`;
}
