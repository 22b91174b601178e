/** A quiet word when a new version of the app is ready; it comes in only when the therapist says so. */
import {useEffect, useState} from 'preact/hooks';
import {applyUpdate, onUpdateReady} from '../sync/update.js';
import {html} from './html.js';

export function UpdateNote() {
  const [ready, setReady] = useState(false);
  useEffect(() => onUpdateReady(() => setReady(true)), []);
  if (!ready) return null;
  return html`<div class="message">
    <p>A new version of the app is ready. What you have typed is kept.</p>
    <button type="button" class="secondary" onClick=${() => applyUpdate()}>Change to the new version</button>
  </div>`;
}
