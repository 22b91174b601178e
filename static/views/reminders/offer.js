/** What a tapped reminder asks of an open window: the list, without taking anybody away from a form. */
import {useEffect, useState} from 'preact/hooks';
import {useApp} from '../app_context.js';
import {html} from '../html.js';

export const DUE_LIST = '/app/due';

let wanted = false;
const listeners = new Set();

function want(next) {
  wanted = next;
  for (const listener of listeners) listener(next);
}

/** Listens to the service worker. Call once at start: a locked window is told as well, and offers after unlocking. */
export function hearReminders(container = navigator.serviceWorker) {
  container?.addEventListener('message', ({data}) => { if (data?.type === 'SHOW_DUE') want(true); });
}

/** In the frame of every screen. */
export function ReminderOffer() {
  const {go} = useApp();
  const [shown, setShown] = useState(wanted);
  useEffect(() => {
    const listener = (next) => {
      // Nothing can be half done on a screen without a form.
      if (next && !document.querySelector('main form')) open();
      else setShown(next);
    };
    listeners.add(listener);
    if (wanted && location.pathname === DUE_LIST) want(false);
    return () => listeners.delete(listener);
  }, []);
  function open() {
    want(false);
    if (location.pathname !== DUE_LIST) go(DUE_LIST);
  }
  if (!shown) return null;
  return html`<section class="message" role="status"><p>You tapped a reminder. What is on this screen stays as it is.</p>
    <button type="button" class="secondary" onClick=${open}>See what is due</button>
    <button type="button" class="quiet" onClick=${() => want(false)}>Not now</button></section>`;
}
