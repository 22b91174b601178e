/** The state of sync in one sentence. Pure, so that every wording can be tested. */
import {sayClock} from './format.js';

/**
 * @param {{phase: string, lastSyncedAt: string|null, waiting: number, held: number, revoked?: boolean}} status
 * @returns {{words: string, attention: boolean}}
 */
export function syncSentence({phase, lastSyncedAt, waiting, held, revoked = false}) {
  const synced = lastSyncedAt ? sayClock(new Date(lastSyncedAt)) : null;
  const parts = [revoked && 'Withdrawn', held && `${held} ${held === 1 ? 'needs' : 'need'} attention`, waiting && waitingWords(phase, waiting), PERSONS_TURN[phase]];
  const said = parts.filter(Boolean);
  return {words: said.join(' · ') || quietWords(phase, synced), attention: revoked || held > 0 || phase === 'sign_in'};
}

const PERSONS_TURN = {sign_in: 'sign in to sync', update: 'update the app to sync'};

function waitingWords(phase, waiting) {
  return phase === 'syncing' ? `sending ${waiting}` : `${waiting} not sent yet`;
}

/** Nothing waits and nobody is asked for anything. */
function quietWords(phase, synced) {
  if (phase === 'syncing') return 'Syncing';
  if (phase === 'offline') return synced ? `No connection, synced ${synced}` : 'No connection';
  if (phase === 'error') return 'The server has a problem, trying again';
  return synced ? `All synced at ${synced}` : 'Not synced yet';
}
