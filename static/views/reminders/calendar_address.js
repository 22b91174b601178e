/** A private calendar address: made, shown once, ended. */
import {useState} from 'preact/hooks';
import {ask} from '../../sync/ask.js';
import {html} from '../html.js';

/** @param {{told: object, onTold: (answer: object) => void}} props what the server says of reminders */
export function CalendarAddress({told, onTold}) {
  const [made, setMade] = useState(null);
  const [problem, setProblem] = useState('');
  async function make(names) {
    const answer = await ask('/api/v1/reminders/calendar', {body: {names}});
    setProblem(answer.message);
    if (!answer.ok) return;
    setMade(answer.answer.address);
    onTold({...told, calendar: true, calendar_names: names});
  }
  async function end() {
    const answer = await ask('/api/v1/reminders/calendar/end', {body: {}});
    setProblem(answer.message);
    if (!answer.ok) return;
    setMade(null);
    onTold(answer.answer);
  }
  return html`<section class="part"><h2>A calendar of your own</h2>
    <p>Your calendar program can fetch what is due from a private address. Whoever has the address can read it, so keep it to yourself.</p>
    ${made && html`<${Once} address=${made} />`}
    ${told.calendar && html`<p>There is an address ${told.calendar_names ? 'with the names of clients' : 'without names'}.</p>
      <button type="button" class="secondary" onClick=${end}>End the address</button>`}
    ${problem && html`<p class="error" role="alert">${problem}</p>`}
    <${Make} again=${told.calendar} make=${make} />
  </section>`;
}

/** Shown this once: neither this phone nor the server keeps it in a form that could be shown again. */
function Once({address}) {
  const [copied, setCopied] = useState('');
  const copy = () => navigator.clipboard.writeText(address)
    .then(() => setCopied('Copied.'), () => setCopied('The browser did not copy it. Mark the address and copy it by hand.'));
  return html`<div class="message"><div class="field"><label for="calendar-address">Your address, shown only now</label>
      <input id="calendar-address" type="text" readonly autocomplete="off" value=${address} onFocus=${(event) => event.target.select()} /></div>
    <button type="button" class="secondary" onClick=${copy}>Copy the address</button><p role="status">${copied}</p></div>`;
}

function Make({again, make}) {
  const [names, setNames] = useState(false);
  async function submit(event) {
    event.preventDefault();
    await make(names);
  }
  return html`<details><summary>${again ? 'Make a new address' : 'Make an address'}</summary><form onSubmit=${submit} novalidate autocomplete="off">
    ${again && html`<p>The address before leads nowhere from then on.</p>`}
    <fieldset class="field"><legend>What stands in the calendar?</legend><div class="options">
      <label class="option"><input type="radio" name="calendar-names" checked=${!names} onChange=${() => setNames(false)} /><span>That something is due, without names</span></label>
      <label class="option"><input type="radio" name="calendar-names" checked=${names} onChange=${() => setNames(true)} /><span>With the names of clients</span></label></div>
      ${names && html`<p class="question">Names then lie in your calendar program, on its maker’s computers and on every device it syncs with, outside of Lintel’s seal. Choose this only where your service allows it.</p>`}</fieldset>
    <button type="submit" class="secondary">Make the address</button></form></details>`;
}
