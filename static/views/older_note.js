/** Over a form in a window that another one, with a newer app, has left behind: nothing typed here is thrown away. */
import {useEffect, useState} from 'preact/hooks';
import {useApp} from './app_context.js';
import {html} from './html.js';

/** Whether somebody may have typed here what stands nowhere else. */
export const isForm = (page = document) => page.querySelector('main form') !== null;

/** In the frame of every screen; on one without a form the app's whole screen about it takes its place. */
export function OlderNote() {
  const {store, guard} = useApp();
  const [shown, setShown] = useState(false);
  useEffect(() => store.subscribe(({type, elsewhere}) => { if (type === 'newer' && !elsewhere) setShown(true); }), [store]);
  if (!shown) return null;
  return html`<section class="message attention" role="alert"><h2>This window is older than its records</h2>
    <p>Lintel was updated in another window, and this one can save nothing more. What is typed here stands on this screen alone: note it, or enter it in the other window.</p>
    <button type="button" class="secondary" onClick=${() => guard.outgrown()}>Leave this screen</button></section>`;
}
