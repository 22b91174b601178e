/** Said on the main screens once the service has withdrawn this phone: why they are empty, and what is left. */
import {useSyncStatus} from './app_context.js';
import {sayCount} from './format.js';
import {html} from './html.js';

export function WithdrawnNote() {
  const {revoked, held, waiting} = useSyncStatus();
  if (!revoked) return null;
  return html`<section class="message attention" aria-labelledby="withdrawn"><h2 id="withdrawn">This phone is withdrawn</h2>
    <p>Your service has withdrawn this phone, so the records it had received were removed from it.</p>
    <p>${leftWords(held + waiting)}</p>
    <p>Ask whoever manages your devices if this phone should be allowed again.</p></section>`;
}

/** @param {number} left entries recorded here that are in no client's record yet */
export function leftWords(left) {
  if (left === 0) return 'Everything you recorded on it had reached the server.';
  const [are, they] = left === 1 ? ['is', 'It stays'] : ['are', 'They stay'];
  return `${sayCount(left, 'entry', 'entries')} you recorded ${are} not in the record yet. ${they} on this phone, `
    + 'and your service is given a copy.';
}
