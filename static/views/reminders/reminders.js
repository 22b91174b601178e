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
  const [told, setTold] = useState(undefined);
  const [here, setHere] = useState(undefined);
  useEffect(() => {
    ask('/api/v1/reminders').then(setTold);
    whetherHere().then(setHere);
  }, []);
  const answered = (answer) => setTold((now) => ({...now, ok: true, answer}));
  return html`<${Frame} title="Reminders" back=${{path: '/app/due', name: 'Due'}}>
    <div class="hero"><h1>Reminders</h1></div>
    <p>Lintel can remind you in the morning of a working day when reassessments can be done, are due or are overdue.</p>
    <dl class="facts">
      <div><dt>What is sent</dt><dd>A number, such as “2 reassessments wait for you”. All of a day in one message.</dd></div>
      <div><dt>What is never sent</dt><dd>A name, an address or anything of a record. Who it is you see here, after unlocking.</dd></div>
      <div><dt>Who carries it</dt><dd>The maker of your browser passes the message on. It is encrypted; they learn that a message came, and when.</dd></div>
    </dl>
    ${told === undefined && html`<p class="soft" role="status">Asking the server</p>`}
    ${told && !told.ok && html`<section class="message attention" role="alert"><h2>Cannot be changed now</h2><p>${told.message}</p><p>The list and the number on the app’s icon work all the same.</p></section>`}
    ${told?.ok && here !== undefined && html`<${Push} told=${told.answer} here=${here} onHere=${setHere} onTold=${answered} />`}
    ${told?.ok && html`<section class="part"><h2>When</h2><${HabitsForm} habits=${told.answer.habits} onTold=${answered} /></section>
      <${CalendarAddress} told=${told.answer} onTold=${answered} />`}
    <section class="part"><h2>Without any message</h2><p>The list “Due” is always on this phone, also without signal. Where the phone allows it, the app’s icon shows how many are due or overdue.</p></section>
  <//>`;
}

/** Whether this browser takes reminders now; null when it cannot. */
async function whetherHere() {
  return pushPossible() ? subscriptionHere().then(Boolean, () => false) : null;
}

function Push({told, here, onHere, onTold}) {
  const {store} = useApp();
  const [problem, setProblem] = useState('');
  const [busy, setBusy] = useState(false);
  async function act(work, next) {
    setBusy(true);
    const answer = await work();
    setBusy(false);
    setProblem(answer.message);
    if (!answer.ok) return;
    onHere(next);
    onTold(answer.answer);
  }
  const elsewhere = told.browsers - (here ? 1 : 0);
  const on = async () => {
    const answer = await switchOn({store, key: told.key});
    // Without a time of one's own the server's clock would count.
    return answer.ok && !told.habits ? ask('/api/v1/reminders/habits', {body: habitsFrom(FIRST, zoneHere())}) : answer;
  };
  return html`<section class="part"><h2>On this phone</h2>
    ${whyNot(told, here) && html`<p class="message">${whyNot(told, here)}</p>`}
    ${here && html`<p>Reminders are on.</p><button type="button" class="secondary" disabled=${busy} onClick=${() => act(() => switchOff({store}), false)}>Switch reminders off here</button>`}
    ${!here && !whyNot(told, here) && html`<p>Reminders are off. The browser will ask you once whether Lintel may show them.</p>
      <button type="button" class="primary" disabled=${busy} onClick=${() => act(on, true)}>Switch reminders on</button>`}
    ${problem && html`<p class="error" role="alert">${problem}</p>`}
    ${elsewhere > 0 && html`<p class="soft">They are also on in ${sayCount(elsewhere, 'other browser')} of yours.</p>`}</section>`;
}

function whyNot({key}, here) {
  if (here) return '';
  if (!key) return 'This service has not set up messages. The list, the icon’s number and the calendar still work.';
  if (here === null) return 'This browser takes no messages. On an iPhone or iPad put the app on the home screen first and open it from there. The list and the calendar still work.';
  return globalThis.Notification.permission === 'denied'
    ? 'This browser does not let Lintel show notifications. Allow them for this site in the browser’s or the phone’s settings, then come back.' : '';
}
