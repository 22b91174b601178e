/** Where a link leads nowhere on this phone. */
import {Frame} from './frame.js';
import {html} from './html.js';

export function Missing() {
  return html`<${Frame} title="Not here" place="/app/">
    <div class="hero"><h1>Not on this phone</h1></div>
    <p>This client or entry is not in what this phone holds. It may belong to someone else’s caseload, or the next sync may bring it.</p>
    <a class="button secondary" href="/app/caseload">Open the caseload</a>
  <//>`;
}
