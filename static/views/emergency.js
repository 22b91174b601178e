/** Emergency access: one client's record for a short time, named exactly and with a reason. */
import {useState} from 'preact/hooks';
import {ask} from '../sync/ask.js';
import {useApp} from './app_context.js';
import {sayMoment} from './format.js';
import {Frame} from './frame.js';
import {html} from './html.js';

const ADDRESS = '/api/v1/emergency-access';
const BLANK = {name: '', day: '', month: '', year: '', reason: ''};

export function Emergency() {
  const {engine} = useApp();
  const [typed, setTyped] = useState(BLANK);
  const [problem, setProblem] = useState(null);
  const [busy, setBusy] = useState(false);
  const [opened, setOpened] = useState(null);
  const take = (name) => (event) => setTyped({...typed, [name]: event.target.value});

  async function open(event) {
    event.preventDefault();
    setBusy(true);
    const told = await ask(ADDRESS, {body: messageOf(typed)});
    setProblem(told.ok ? null : told);
    if (told.ok) {
      await engine.syncNow();
      setOpened(told.answer);
    }
    setBusy(false);
  }

  const next = !opened && html`<button type="submit" form="emergency" class="primary" disabled=${busy}>${busy ? 'Asking the server' : 'Open the record'}</button>`;
  return html`<${Frame} title="Emergency access" back=${{path: '/app/caseload', name: 'Caseload'}} next=${next}>
    <div class="hero"><h1>Emergency access</h1></div>
    ${opened ? html`<${Opened} opened=${opened} />` : html`
      <p>For a client of your service who is not in your caseload, when you must see the record now. It needs a
        connection. Their lead is shown that you opened it, and why.</p>
      <form id="emergency" onSubmit=${open} novalidate autocomplete="off">
        <${Field} id="name" label="Name of the client" hint="The family name or the full name, as recorded." problem=${problem}>
          <input id="f-name" type="text" value=${typed.name} onInput=${take('name')} ...${told('name', problem)} /><//>
        <${Born} typed=${typed} take=${take} problem=${problem} />
        <${Field} id="reason" label="Why you need it now" hint="In a few words." problem=${problem}>
          <textarea id="f-reason" rows="3" value=${typed.reason} onInput=${take('reason')} ...${told('reason', problem)}></textarea><//>
        ${problem && !AT_FIELDS.includes(problem.field) && html`<p class="error" role="alert">${problem.message}</p>`}
      </form>`}
  <//>`;
}

const AT_FIELDS = ['name', 'birth_date', 'reason'];

function Opened({opened}) {
  return html`<section class="message" role="status">
      <h2>The record is open</h2>
      <p>${opened.until ? `Until ${sayMoment(opened.until)}. Then it leaves this phone again; what you recorded is kept.`
        : 'This client is in your caseload.'}</p></section>
    <a class="button primary" href=${`/app/client/${opened.client}`}>Go to the client</a>`;
}

function Field({id, label, hint, problem, children}) {
  return html`<div class="field"><label for=${`f-${id}`}>${label}</label>
    <p class="hint" id=${`h-${id}`}>${hint}</p>${children}<${Problem} id=${id} problem=${problem} /></div>`;
}

/** Three plain fields: a calendar that opens at today is no way to a day eighty years ago. */
function Born({typed, take, problem}) {
  const part = (name, label, size) => html`<div class="date-part"><label for=${`f-${name}`}>${label}</label>
    <input id=${`f-${name}`} type="text" inputmode="numeric" maxlength=${size} value=${typed[name]} onInput=${take(name)}
      ...${told('birth_date', problem)} /></div>`;
  return html`<fieldset class="field"><legend>Date of birth</legend>
    <p class="hint" id="h-birth_date">For example 2 3 1948.</p>
    <div class="date-parts">${part('day', 'Day', 2)}${part('month', 'Month', 2)}${part('year', 'Year', 4)}</div>
    <${Problem} id="birth_date" problem=${problem} /></fieldset>`;
}

function Problem({id, problem}) {
  return problem?.field === id ? html`<p class="error" id=${`e-${id}`} role="alert">${problem.message}</p>` : null;
}

function told(id, problem) {
  const wrong = problem?.field === id;
  return {'aria-invalid': wrong ? 'true' : undefined, 'aria-describedby': `h-${id}${wrong ? ` e-${id}` : ''}`};
}

function messageOf({name, day, month, year, reason}) {
  const two = (text) => text.trim().padStart(2, '0');
  const typed = [day, month, year].some((part) => part.trim());
  return {name, reason, ...(typed ? {birth_date: `${year.trim()}-${two(month)}-${two(day)}`} : {})};
}
