/** On the phone's screen: locking now, when it locks by itself, a new passphrase, a passkey. */
import {useState} from 'preact/hooks';
import {NoPasskey, passkeysPossible} from '../store/index.js';
import {useApp, useStored} from './app_context.js';
import {sayCount} from './format.js';
import {html} from './html.js';
import {LOCK_AFTER, LOCK_AFTER_DEFAULT} from './idle.js';
import {NewPassphrase, SecretField} from './lock.js';

export function GuardSettings() {
  const {guard} = useApp();
  const [done, setDone] = useState('');
  return html`<section class="part"><h2>Lock</h2>
    <button type="button" class="secondary" onClick=${() => guard.lock()}>Lock now</button>
    <${LockAfter} />
    <p role="status">${done}</p>
    <details><summary>Change the passphrase</summary><${Change} done=${() => setDone('The passphrase is changed.')} /></details>
    ${passkeysPossible() && html`<details><summary>Unlock with a fingerprint or face</summary><${Passkey} tell=${setDone} /></details>`}
  </section>`;
}

function LockAfter() {
  const {store} = useApp();
  const kept = useStored((app) => app.store.meta('lock_after'), []);
  const [chosen, setChosen] = useState(/** @type {number|null} */ (null));
  const minutes = chosen ?? kept ?? LOCK_AFTER_DEFAULT;
  function choose(event) {
    const next = Number(event.target.value);
    setChosen(next);
    store.setMeta('lock_after', next);
  }
  return html`<div class="field"><label for="lock-after">Lock by itself after</label>
    <p class="hint" id="lock-after-hint">Without a touch. Out of sight it locks after two minutes at most. What you were typing is kept.</p>
    <select id="lock-after" autocomplete="off" aria-describedby="lock-after-hint" value=${String(minutes)} onChange=${choose}>
      ${LOCK_AFTER.map((each) => html`<option value=${String(each)} selected=${each === minutes}>${sayCount(each, 'minute')}</option>`)}
    </select></div>`;
}

function Change({done}) {
  const {guard} = useApp();
  const [before, setBefore] = useState('');
  const [wrong, setWrong] = useState(/** @type {string|null} */ (null));
  async function save(passphrase) {
    setWrong(null);
    try {
      await guard.changePassphrase(before, passphrase);
      done();
    } catch (failure) {
      if (!['wrong', 'early'].includes(failure.code)) throw failure;
      setWrong(failure.code === 'early' ? 'Too many wrong tries. Wait a minute.' : 'This is not the passphrase in use.');
      throw new Error('Not changed: see the passphrase in use above.');
    }
  }
  return html`<${SecretField} id="old-passphrase" label="Passphrase in use" value=${before} onInput=${setBefore} error=${wrong} complete="current-password" />
    <${NewPassphrase} action="Change it" save=${save} />`;
}

function Passkey({tell}) {
  const {guard} = useApp();
  const [passphrase, setPassphrase] = useState('');
  const [wrong, setWrong] = useState(/** @type {string|null} */ (null));
  async function add(event) {
    event.preventDefault();
    setWrong(null);
    try {
      await guard.addPasskey(passphrase);
      setPassphrase('');
      tell('The passkey of this phone unlocks Lintel too.');
    } catch (failure) {
      setWrong(failure instanceof NoPasskey ? failure.message : 'This is not the passphrase in use.');
    }
  }
  return html`<p>A passkey made on this phone opens Lintel after a fingerprint, a face or the phone’s code. The passphrase goes on working: keep it.</p>
    <form onSubmit=${add} novalidate>
      <${SecretField} id="passkey-passphrase" label="Passphrase in use" value=${passphrase} onInput=${setPassphrase} error=${wrong} complete="current-password" />
      <button type="submit" class="secondary">Set up a passkey</button>
    </form>
    <button type="button" class="quiet" onClick=${() => guard.removePasskeys().then(() => tell('Only the passphrase unlocks Lintel now.'))}>Use no passkey</button>`;
}
