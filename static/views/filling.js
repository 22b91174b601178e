/** Until the first sync has come to its end the lists are not whole, and say so. */
import {useSyncStatus} from './app_context.js';
import {html} from './html.js';
import {progressWords} from './sync_words.js';

export function Filling() {
  const {phase, lastSyncedAt, progress, revoked} = useSyncStatus();
  if (lastSyncedAt || revoked) return null;
  return html`<section class="part">
    <p>${phase === 'syncing' ? 'Your caseload is on its way. Keep Lintel open until it is here.' : 'Your caseload comes with the first sync. That needs a connection.'}</p>
    ${phase === 'syncing' && progress && html`<p class="soft">${progressWords(progress)}</p>
      <progress max="1" value=${progress.share} aria-label="Record received"></progress>`}
  </section>`;
}
