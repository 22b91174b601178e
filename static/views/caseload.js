/** Everyone in the therapist's care, found by name, address or precaution. */
import {useState} from 'preact/hooks';
import {ageNow} from './age.js';
import {useApp, useStored, useSyncStatus} from './app_context.js';
import {sayDate} from './format.js';
import {Filling} from './filling.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {visitState} from './planned.js';
import {matches} from './search.js';
import {WithdrawnNote} from './withdrawn_note.js';

export function Caseload() {
  const [asked, setAsked] = useState('');
  const {me} = useApp();
  const {lastSyncedAt} = useSyncStatus();
  const cards = useStored(async ({store}) => byName(await store.cards()), []);
  const found = cards?.filter((card) => matches(card, asked));
  return html`<${Frame} title="Caseload" place="/app/caseload">
    <div class="hero"><h1>Caseload</h1></div>
    <${WithdrawnNote} />
    <${Filling} />
    <div class="field">
      <label for="find">Find a client</label>
      <p class="hint" id="find-hint">Part of a name, a street, or something to know, such as “oxygen”.</p>
      <input id="find" type="search" autocomplete="off" spellcheck="false" enterkeyhint="search"
        aria-describedby="find-hint" value=${asked} onInput=${(event) => setAsked(event.target.value)} />
    </div>
    ${found && (lastSyncedAt || cards.length > 0) && html`<p class="soft" role="status">${countWords(found.length, cards.length)}</p>`}
    ${found && html`<ul class="lines">${found.map((card) => html`<li key=${card.client}><${CaseloadLine} card=${card} /></li>`)}</ul>`}
    ${found?.length === 0 && asked && html`<p>Not in your caseload? In an emergency, or when you cover for somebody at short notice,
      you can <a href="/app/emergency">open the record of one client</a>. It is noted, and their lead is told.</p>`}
    ${me.role === 'lead' && html`<p><a href="/app/emergency/review">Emergency access in the last 30 days</a></p>`}
  <//>`;
}

function CaseloadLine({card}) {
  const latest = card.visits.filter((visit) => visitState(visit) !== 'planned').at(-1);
  return html`<a class="line" href=${`/app/client/${card.client}`}>
    <span class="lead"><bdi>${card.name}</bdi></span>
    <span class="side soft">${ageNow(card) ?? ''}</span>
    <span class="under">${calledOtherwise(card) && html`“<bdi>${card.preferred_name}</bdi>” · `}${latest?.date ? `Last visit ${sayDate(latest.date)}` : 'No visit yet'}</span>
  </a>`;
}

/** The name heard at the door has to be found here too, when the full name does not hold it. */
function calledOtherwise({name, preferred_name: called}) {
  return Boolean(called) && !(name ?? '').includes(called);
}

function byName(cards) {
  const order = new Intl.Collator(undefined, {sensitivity: 'base'});
  return [...cards].sort((one, other) => order.compare(one.name ?? '', other.name ?? ''));
}

function countWords(found, all) {
  if (all === 0) return 'Nobody is in your caseload. Whoever plans the visits assigns clients to you.';
  if (found === 0) return 'Nobody matches. Try fewer letters.';
  return found === all ? `${all} clients` : `${found} of ${all} clients`;
}
