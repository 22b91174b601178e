/** Reminders: what is sent and what is not, on and off, when, and what works without them. */
import {useEffect, useState} from 'preact/hooks';
import {ask} from '../../sync/ask.js';
import {useApp} from '../app_context.js';
import {sayCount} from '../format.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {CalendarAddress} from './calendar_address.js';
import {FIRST, HabitsForm, habitsFrom, zoneHere} from './habits_form.js';
import {pushPossible, subscriptionHere, switchOff, switchOn} from './push.js';

export function Reminders() {
  const {store} = useApp();
  const [told, setTold] = useState(undefined);
  const [here, setHere] = useState(undefined);
  const [problem, setProblem] = useState('');
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    ask('/api/v1/reminders').then(setTold);
    whetherHere().then(setHere);
  }, []);
  const answered = (answer) => setTold((now) => ({...now, ok: true, answer}));
  async function act(work, next) {
    setBusy(true);
    const answer = await work();
    setBusy(false);
    setProblem(answer.message);
    if (!answer.ok) return;
    setHere(next);
    answered(answer.answer);
  }
  const known = told?.ok && here !== undefined;
  const on = known && !here && !whyNot(told.answer, here) && html`<button type="button" class="primary" disabled=${busy} onClick=${() => act(() => begin(store, told.answer), true)}>Switch reminders on</button>`;
  return html`<${Frame} title="Reminders" back=${{path: '/app/due', name: 'Due'}} next=${on}>
    <div class="hero"><h1>Reminders</h1></div>
    ${problem && html`<p class="message attention" role="alert">${problem}</p>`}
    <p>Lintel can remind you in the morning of a working day when reassessments can be done, are due or are overdue.</p>
    <dl class="facts">
      <div><dt>What is sent</dt><dd>A number, such as “2 reassessments wait for you”. All of a day in one message.</dd></div>
      <div><dt>What is never sent</dt><dd>A name, an address or anything of a record. Who it is you see here, after unlocking.</dd></div>
      <div><dt>Who carries it</dt><dd>The maker of your browser passes the message on. It is encrypted; they learn that a message came, and when.</dd></div>
    </dl>
    ${told === undefined && html`<p class="soft" role="status">Asking the server</p>`}
    ${told && !told.ok && html`<section class="message attention" role="alert"><h2>Cannot be changed now</h2><p>${told.message}</p><p>The list and the number on the app’s icon work all the same.</p></section>`}
    ${known && html`<${OnThisPhone} told=${told.answer} here=${here} busy=${busy} off=${() => act(() => switchOff({store}), false)} />`}
    ${told?.ok && html`<section class="part"><h2>When</h2><${HabitsForm} habits=${told.answer.habits} onTold=${answered} /></section>
      <${CalendarAddress} told=${told.answer} onTold=${answered} />`}
    <section class="part"><h2>Without any message</h2><p>The list “Due” is always on this phone, also without signal. Where the phone allows it, the app’s icon shows how many are due or overdue.</p></section>
  <//>`;
}

/** Switches on and, without a time of one's own, keeps the first one by this phone's clock: else the server's counts. */
async function begin(store, {key, habits}) {
  const answer = await switchOn({store, key});
  return answer.ok && !habits ? ask('/api/v1/reminders/habits', {body: habitsFrom(FIRST, zoneHere())}) : answer;
}

/** Whether this browser takes reminders now; null when it cannot. */
async function whetherHere() {
  return pushPossible() ? subscriptionHere().then(Boolean, () => false) : null;
}

function OnThisPhone({told, here, busy, off}) {
  const elsewhere = told.browsers - (here ? 1 : 0);
  const not = whyNot(told, here);
  return html`<section class="part"><h2>On this phone</h2>
    ${not && html`<p class="message">${not}</p>`}
    ${here && html`<p>Reminders are on.</p><button type="button" class="secondary" disabled=${busy} onClick=${off}>Switch reminders off here</button>`}
    ${!here && !not && html`<p>Reminders are off. When you switch them on, the browser asks whether Lintel may show them.</p>`}
    ${elsewhere > 0 && html`<p class="soft">They are also on in ${sayCount(elsewhere, 'other browser')} of yours.</p>`}</section>`;
}

function whyNot({key}, here) {
  if (here) return '';
  if (!key) return 'This service has not set up messages. The list, the icon’s number and the calendar still work.';
  if (here === null) return 'This browser takes no messages. On an iPhone or iPad put the app on the home screen first and open it from there. The list and the calendar still work.';
  return globalThis.Notification.permission === 'denied'
    ? 'This browser does not let Lintel show notifications. Allow them for this site in the browser’s or the phone’s settings, then come back.' : '';
}
