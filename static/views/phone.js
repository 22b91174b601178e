/** What is on this phone, what waits, what needs attention, and what each of these means. */
import {forgetCurrentPerson} from '../store/index.js';
import {askSession} from '../sync/engine.js';
import {useApp, useStored, useSyncStatus} from './app_context.js';
import {ClockNote} from './clock_note.js';
import {sayCount, sayMoment} from './format.js';
import {Frame} from './frame.js';
import {clearBadge} from './due/badge.js';
import {GuardSettings} from './guard_settings.js';
import {html} from './html.js';
import {InstallNote} from './install_note.js';
import {LackingNote} from './lacking_note.js';
import {pushPossible, switchOff} from './reminders/push.js';
import {OutboxLines} from './outbox_lines.js';
import {ReturningNote} from './returning_note.js';
import {StorageNote} from './storage_note.js';
import {progressWords, syncSentence} from './sync_words.js';
import {UpdateNote} from './update_note.js';
import {WithdrawnNote} from './withdrawn_note.js';

export function Phone() {
  const {engine, me} = useApp();
  const status = useSyncStatus();
  const outbox = useStored(({store}) => store.outbox(), []);
  const {late} = syncSentence(status);
  const held = outbox?.filter((row) => row.state === 'held') ?? [];
  const waiting = outbox?.filter((row) => row.state === 'waiting') ?? [];
  return html`<${Frame} title="This phone" place="/app/phone">
    <div class="hero"><h1>This phone</h1></div>
    <${Standing} status=${status} late=${late} />
    ${status.phase === 'sign_in' && html`<div class="message attention"><h2>Sign in to sync</h2>
      <p>Your sign-in has ended. Everything recorded stays on this phone and is sent after you sign in.</p>
      <a class="button secondary" href="/sign-in">Sign in</a></div>`}
    <${WithdrawnNote} />
    <${ClockNote} />
    ${status.message && status.phase !== 'sign_in' && !(status.phase === 'offline' && late) && html`<p class="message">${status.message}</p>`}
    <button type="button" class="secondary" onClick=${() => engine.syncNow()} disabled=${status.phase === 'syncing'}>
      ${status.phase === 'syncing' ? 'Syncing' : 'Sync now'}</button>
    <${UpdateNote} />
    ${held.length > 0 && html`<section class="part"><h2>Needs attention</h2>
      <p>The server did not take these. They stay here until they are taken, or you correct or withdraw them.</p>
      <${OutboxLines} rows=${held} /></section>`}
    ${waiting.length > 0 && html`<section class="part"><h2>Waiting to be sent</h2>
      <${OutboxLines} rows=${waiting} /></section>`}
    <${ReturningNote} />
    <section class="part"><h2>What the words mean</h2>
      <dl class="facts">
        <div><dt>Saved on this phone</dt><dd>Written to the phone’s own storage. A dead battery or a closed app does not lose it.</dd></div>
        <div><dt>All synced</dt><dd>What you recorded is on the server, and what others recorded about your clients is here.</dd></div>
        <div><dt>Waiting</dt><dd>Saved here, not yet on the server. It goes by itself when there is a connection.</dd></div>
        <div><dt>Needs attention</dt><dd>The server said why it could not take it. Open it to correct it, send it again or withdraw it. What was recorded about a client who is not on your caseload goes by itself once the client is.</dd></div>
      </dl></section>
    <${LackingNote} always=${true} />
    <section class="part"><h2>Reminders</h2><p>When to be told of what is due, on this phone or in your calendar.</p>
      <a class="button secondary" href="/app/reminders">Reminders</a></section>
    <${GuardSettings} />
    <${StorageNote} />
    <${InstallNote} />
    <section class="part"><h2>Signed in</h2><p><bdi>${me.name}</bdi></p>
      <a class="button quiet" href="/account">Your account: password, sessions, devices</a>
      <${SignOut} unsent=${waiting.length + held.length} /></section>
  <//>`;
}

/** How things stand, one fact a line. */
function Standing({status, late}) {
  const {waiting, held, oldest, lastSyncedAt, phase, progress} = status;
  return html`${late && html`<section class="message late"><h2>Waiting for more than a day</h2>
      <p>What waits is on this phone only. Find a connection and tap “Sync now”. If that does not help, tell whoever looks after Lintel in your service.</p></section>`}
    <dl class="facts">
      <div><dt>Last sync</dt><dd>${lastSyncedAt ? sayMoment(lastSyncedAt) : 'not yet'}</dd></div>
      <div><dt>Waiting to be sent</dt><dd>${waiting ? waitingFact(waiting, oldest) : 'nothing'}</dd></div>
      <div><dt>Needs attention</dt><dd>${held ? sayCount(held, 'entry', 'entries') : 'nothing'}</dd></div>
    </dl>
    ${phase === 'syncing' && progress && html`<p class="soft">${progressWords(progress)}</p>
      <progress max="1" value=${progress.share} aria-label="Record received"></progress>`}`;
}

function waitingFact(waiting, oldest) {
  const count = sayCount(waiting, 'entry', 'entries');
  return oldest ? `${count}, ${waiting === 1 ? '' : 'the oldest '}since ${sayMoment(oldest)}` : count;
}

function SignOut({unsent}) {
  const {store} = useApp();
  if (unsent > 0) {
    return html`<p class="soft">Signing out waits until ${sayCount(unsent, 'entry', 'entries')} ${unsent === 1 ? 'is' : 'are'} sent.</p>`;
  }
  return html`<button type="button" class="quiet" onClick=${() => signOut(store)}>Sign out</button>`;
}

/** Ends the session on the server when it can be reached, and on this phone in any case. */
async function signOut(store) {
  // Whoever takes the phone next is not to be told of another person's work.
  if (pushPossible() && await store.meta('reminders')) await switchOff({store, anyhow: true}).catch(() => {});
  await clearBadge();
  const {session} = await askSession();
  if (session) await fetch('/sign-out', {method: 'POST', headers: {'X-CSRFToken': session.csrf}}).catch(() => {});
  await forgetCurrentPerson();
  location.assign('/app/');
}
