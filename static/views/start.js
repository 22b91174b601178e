/** Before anybody is known on this phone: sign in once with signal, then the app works without. */
import {html} from './html.js';
import {Beam} from './marks.js';
import {UpdateNote} from './update_note.js';

/**
 * @param {object} props
 * @param {'sign_in'|'offline'|'storage'|'older'} props.reason older: than what is stored here
 * @param {boolean} [props.empty] nobody's record is on this phone
 * @param {string} [props.message] what the storage said
 */
export function Start({reason, empty, message}) {
  return html`<div class="frame"><header class="top"><span class="mark"><${Beam} />Lintel</span></header>
    <main class="page" tabindex="-1">${WORDS[reason](message)}
    ${empty && html`<p class="soft">${CLEARED}</p>`}</main></div>`;
}

const CLEARED = 'Nothing is stored on this phone. If you have used Lintel on it before, its storage was cleared: after you sign in, your caseload comes again, and Lintel says what it knows of entries that had not been sent.';

const WORDS = {
  sign_in: () => html`<div class="hero"><h1>Ready for your visits</h1></div>
    <p>Sign in once while you have signal. Your caseload and the forms are then kept on this phone for visits without it.</p>
    <a class="button primary" href="/sign-in">Sign in</a>`,
  offline: () => html`<div class="hero"><h1>No connection</h1></div>
    <p>Nobody has signed in on this phone yet, and that needs a connection once. Go where there is signal and open the app again.</p>
    <button type="button" class="secondary" onClick=${() => location.reload()}>Try again</button>`,
  older: () => html`<div class="hero"><h1>The app is older than its records</h1></div>
    <p>A newer version of Lintel has kept records on this phone, and this one leaves them alone. Nothing is lost and nothing was removed.</p>
    <p>Go where there is signal, close every window of Lintel and open it again: the app then updates itself.</p>
    <${UpdateNote} />
    <button type="button" class="secondary" onClick=${() => location.reload()}>Try again</button>`,
  storage: (message) => html`<div class="hero"><h1>The phone’s storage did not open</h1></div>
    <p>${message || 'Close every window of Lintel and open it again. If that does not help, start the phone anew.'}</p>
    <p>Nothing was removed.</p>
    <button type="button" class="secondary" onClick=${() => location.reload()}>Try again</button>`,
};
