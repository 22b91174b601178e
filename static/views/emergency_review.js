/** For leads: who opened a record of their teams' clients in an emergency, when and why. */
import {useEffect, useState} from 'preact/hooks';
import {ask} from '../sync/ask.js';
import {useStored} from './app_context.js';
import {sayMoment} from './format.js';
import {Frame} from './frame.js';
import {html} from './html.js';

const ADDRESS = '/api/v1/emergency-access';

export function EmergencyReview() {
  const [told, setTold] = useState(null);
  const names = useStored(async ({store}) => new Map((await store.cards()).map((card) => [card.client, card.name])), []);
  const load = () => ask(ADDRESS).then(setTold);
  useEffect(() => {
    load();
  }, []);
  return html`<${Frame} title="Emergency access" back=${{path: '/app/caseload', name: 'Caseload'}}>
    <div class="hero"><h1>Emergency access</h1><p>In the last 30 days, to clients of your teams.</p></div>
    ${told && !told.ok && html`<p class="message" role="status">${told.message}</p>
      <button type="button" class="secondary" onClick=${load}>Try again</button>`}
    ${told?.ok && told.answer.accesses.length === 0 && html`<p>Nobody opened a record in an emergency.</p>`}
    ${told?.ok && html`<ul class="lines">${told.answer.accesses.map((access) => html`<li key=${access.id}>
      <${Access} access=${access} name=${names?.get(access.client)} again=${load} /></li>`)}</ul>`}
  <//>`;
}

function Access({access, name, again}) {
  const [problem, setProblem] = useState('');
  async function see() {
    const told = await ask(`${ADDRESS}/${access.id}/seen`, {body: {}});
    setProblem(told.message);
    if (told.ok) await again();
  }
  return html`<div class="access">
    <p><strong><bdi>${access.person.name}</bdi></strong> opened the record of ${name
      ? html`<a href=${`/app/client/${access.client}`}><bdi>${name}</bdi></a>` : 'a client who is in no team'}</p>
    <p class="soft">${sayMoment(access.since)}${access.until && `, until ${sayMoment(access.until)}`}</p>
    <blockquote dir="auto">${access.reason}</blockquote>
    ${access.seen_at ? html`<p class="soft">You looked at this ${sayMoment(access.seen_at)}.</p>`
      : html`<button type="button" class="secondary" onClick=${see}>Mark as seen<span class="visually-hidden"> what ${access.person.name} opened</span></button>`}
    ${problem && html`<p class="error" role="alert">${problem}</p>`}
  </div>`;
}
