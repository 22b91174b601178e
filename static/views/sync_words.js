/** The state of sync in one sentence. Pure, so that every wording can be tested. */
import {sayClock, sayCount} from './format.js';

/**
 * @param {{phase: string, lastSyncedAt: string|null, waiting: number, held: number}} status
 * @returns {{words: string, attention: boolean}}
 */
export function syncSentence(status) {
  const parts = [];
  if (status.held) parts.push(`${sayCount(status.held, 'entry', 'entries')} need${status.held === 1 ? 's' : ''} attention`);
  if (status.waiting) parts.push(`${status.waiting} waiting, safe on this phone`);
  parts.push(...phaseWords(status));
  return {words: parts.join(' · '), attention: status.held > 0 || status.phase === 'sign_in'};
}

function phaseWords({phase, waiting, lastSyncedAt}) {
  const synced = lastSyncedAt ? sayClock(new Date(lastSyncedAt)) : null;
  if (phase === 'syncing') return ['syncing'];
  if (phase === 'sign_in') return ['sign in to sync'];
  if (phase === 'update') return ['update the app to sync'];
  if (phase === 'offline') return [synced && !waiting ? `No connection, synced ${synced}` : 'no connection'];
  if (phase === 'error') return ['the server has a problem, trying again'];
  if (!synced) return ['not synced yet'];
  return [waiting ? `last synced ${synced}` : `All synced at ${synced}`];
}
