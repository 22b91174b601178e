/** Installing the app on the phone: our own button where the browser offers it, words where it does not. */
import {useEffect, useState} from 'preact/hooks';
import {html} from './html.js';

let offered = null;
const listeners = new Set();

/** Keeps the browser's offer until the therapist wants it. Call once at start. */
export function rememberInstallOffer() {
  window.addEventListener('beforeinstallprompt', (event) => {
    event.preventDefault();
    offered = event;
    listeners.forEach((listener) => listener());
  });
  window.addEventListener('appinstalled', () => {
    offered = null;
    listeners.forEach((listener) => listener());
  });
}

export function InstallNote() {
  const [, refresh] = useState(0);
  useEffect(() => {
    const listener = () => refresh((count) => count + 1);
    listeners.add(listener);
    return () => listeners.delete(listener);
  }, []);
  if (window.matchMedia('(display-mode: standalone)').matches) return null;
  return html`<section class="part"><h2>Put the app on this phone</h2>
    <p>Installed, it opens from the home screen, also without signal, and the phone keeps its storage more surely.</p>
    ${offered
    ? html`<button type="button" class="secondary" onClick=${() => offered.prompt()}>Install</button>`
    : html`<p class="soft">In the browser’s menu choose “Install app” or “Add to home screen”. On an iPhone: Share, then Add to Home Screen.</p>`}
  </section>`;
}
