/** Before the records: choosing the passphrase that guards them, and entering it. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {suggestPassphrase, whyUnfit} from '../store/index.js';
import {html} from './html.js';
import {Beam} from './marks.js';

const LONGER_THAN_ANY = 300;

function Plain({title, children}) {
  useEffect(() => { document.title = `${title} · Lintel`; }, [title]);
  return html`<div class="frame"><header class="top"><span class="mark"><${Beam} />Lintel</span></header>
    <main class="page" tabindex="-1">${children}</main></div>`;
}

/**
 * Once a person and phone: a passphrase is chosen, and typed again so that it was typed once.
 * @param {{create: (passphrase: string) => Promise<void>}} props
 */
export function ChoosePassphrase({create}) {
  const [suggested, setSuggested] = useState(suggestPassphrase);
  return html`<${Plain} title="Choose a passphrase">
    <div class="hero"><h1>Guard this phone</h1></div>
    <p>Your clients’ records are kept on this phone for visits without signal. A passphrase locks them: whoever finds the phone sees nothing without it.</p>
    <section class="part"><h2>A suggestion</h2>
      <p class="passphrase">${suggested}</p>
      <button type="button" class="secondary" onClick=${() => setSuggested(suggestPassphrase())}>Suggest another</button>
    </section>
    <${NewPassphrase} action="Lock with this passphrase" save=${create} />
    <p class="hint">Nobody can look it up for you, and it works without a connection. Write it down somewhere that is not with the phone until you know it by heart.</p>
  <//>`;
}

/**
 * Two fields that must agree, and what is wrong beside each.
 * @param {{action: string, save: (passphrase: string) => Promise<void>}} props
 */
export function NewPassphrase({action, save}) {
  const [first, setFirst] = useState('');
  const [again, setAgain] = useState('');
  const [wrong, setWrong] = useState({});
  const [busy, setBusy] = useState(false);
  const [shown, setShown] = useState(false);
  async function submit(event) {
    event.preventDefault();
    const unfit = whyUnfit(first);
    if (unfit) return setWrong({first: unfit});
    if (again.trim() !== first.trim()) return setWrong({again: 'The two do not agree. Type the same passphrase again.'});
    setWrong({});
    setBusy(true);
    try {
      await save(first);
    } catch (failure) {
      setBusy(false);
      setWrong({first: failure.message});
    }
  }
  return html`<form onSubmit=${submit} novalidate>
    <${SecretInput} id="new-passphrase" label="Passphrase" hint="Four or more words with spaces between. Capital letters make no difference."
      value=${first} onInput=${setFirst} error=${wrong.first} complete="new-password" shown=${shown} />
    <${SecretInput} id="same-passphrase" label="The same again" value=${again} onInput=${setAgain} error=${wrong.again} complete="new-password" shown=${shown} />
    <${ShowTyped} shown=${shown} setShown=${setShown} />
    <button type="submit" class="primary" disabled=${busy}>${busy ? 'One moment' : action}</button>
  </form>`;
}

/**
 * @param {object} props
 * @param {(passphrase: string) => Promise<void>} props.unlock
 * @param {(() => Promise<void>)|null} props.unlockWithPasskey
 * @param {() => void} props.someoneElse
 * @param {() => void} props.forgotten
 * @param {() => Promise<number>} props.unsent how many entries of the person wait on this phone
 */
export function Locked({unlock, unlockWithPasskey, someoneElse, forgotten, unsent}) {
  const [passphrase, setPassphrase] = useState('');
  const [problem, setProblem] = useState(/** @type {string|null} */ (null));
  const [until, setUntil] = useState(0);
  const [busy, setBusy] = useState(false);
  const left = useSecondsUntil(until);
  async function attempt(work) {
    setBusy(true);
    setProblem(null);
    try {
      await work();
    } catch (failure) {
      setBusy(false);
      setUntil(failure.waitUntil ?? 0);
      setProblem(WHY[failure.code] ?? failure.message);
    }
  }
  const submit = (event) => {
    event.preventDefault();
    if (passphrase.trim() === '') setProblem('Enter your passphrase.');
    else attempt(() => unlock(passphrase));
  };
  return html`<${Plain} title="Locked">
    <div class="hero"><h1>Locked</h1><p class="soft">What you recorded is safe on this phone.</p></div>
    <form onSubmit=${submit} novalidate>
      <${SecretField} id="passphrase" label="Passphrase" value=${passphrase} onInput=${setPassphrase} complete="current-password"
        error=${left > 0 ? `${problem ?? ''} Wait ${left} s before the next try.`.trim() : problem} focus />
      <button type="submit" class="primary" disabled=${busy || left > 0}>${busy ? 'One moment' : 'Unlock'}</button>
    </form>
    ${unlockWithPasskey && html`<button type="button" class="secondary" disabled=${busy} onClick=${() => attempt(unlockWithPasskey)}>Unlock with the passkey</button>`}
    <details class="part"><summary>Forgotten, or not your phone?</summary>
      <${OtherWays} someoneElse=${someoneElse} forgotten=${forgotten} unsent=${unsent} />
    </details>
  <//>`;
}

const WHY = {
  wrong: 'This passphrase does not open it. Check the words and their order.',
  early: 'Too many wrong tries.',
};

function OtherWays({someoneElse, forgotten, unsent}) {
  const [waiting, setWaiting] = useState(/** @type {number|null} */ (null));
  useEffect(() => { unsent().then(setWaiting, () => setWaiting(null)); }, []);
  return html`<div class="apart"><section class="part"><h2>Not your phone</h2>
      <p>Someone else may use Lintel here under their own sign-in. They see nothing of yours.</p>
      <button type="button" class="secondary" onClick=${someoneElse}>Sign in as someone else</button></section>
    <section class="part"><h2>Passphrase forgotten</h2>
    ${waiting === 0 && html`<p>Everything on this phone has reached the server. With a connection you can remove it here, sign in and choose a new passphrase; it is fetched again.</p>
      <button type="button" class="quiet" onClick=${forgotten}>Remove it from this phone and start afresh</button>`}
    ${waiting > 0 && html`<p>${waiting === 1 ? '1 entry waits' : `${waiting} entries wait`} on this phone to be sent. Nobody can read ${waiting === 1 ? 'it' : 'them'} without the passphrase, so nothing is removed. Try to remember it; meanwhile another phone can be used.</p>`}
    </section></div>`;
}

function useSecondsUntil(until) {
  const [now, setNow] = useState(Date.now());
  useEffect(() => {
    setNow(Date.now());  // also when it is over already: what was known is as old as the screen
    if (until <= Date.now()) return undefined;
    const timer = setInterval(() => setNow(Date.now()), 250);
    return () => clearInterval(timer);
  }, [until]);
  return Math.max(0, Math.ceil((until - now) / 1000));
}

/** A secret that can be looked at while it is typed: four words on a phone's keyboard need that. */
export function SecretField(props) {
  const [shown, setShown] = useState(false);
  return html`<${SecretInput} ...${props} shown=${shown} /><${ShowTyped} shown=${shown} setShown=${setShown} />`;
}

function ShowTyped({shown, setShown}) {
  return html`<button type="button" class="quiet" aria-pressed=${shown ? 'true' : 'false'} onClick=${() => setShown(!shown)}>${shown ? 'Hide what is typed' : 'Show what is typed'}</button>`;
}

function SecretInput({id, label, hint, value, onInput, error, complete, focus, shown}) {
  const input = useRef(null);
  useEffect(() => { if (focus || error) input.current?.focus({preventScroll: !error}); }, [error]);
  const described = [hint && `${id}-hint`, error && `${id}-error`].filter(Boolean).join(' ') || undefined;
  return html`<div class="field">
    <label for=${id}>${label}</label>
    ${hint && html`<p class="hint" id=${`${id}-hint`}>${hint}</p>`}
    <input id=${id} ref=${input} type=${shown ? 'text' : 'password'} autocomplete=${complete} autocapitalize="none" spellcheck="false"
      maxlength=${LONGER_THAN_ANY} aria-invalid=${error ? 'true' : undefined} aria-describedby=${described}
      value=${value} onInput=${(event) => onInput(event.target.value)} />
    ${error && html`<p class="error" id=${`${id}-error`} role="alert">${error}</p>`}
  </div>`;
}
