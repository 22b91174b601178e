/** Today's round: whom the therapist visits, in the order of the day. */
import {precautionOf} from './precaution_words.js';
import {useStored, useSyncStatus} from './app_context.js';
import {localDate, sayCount, sayDate, sayTime} from './format.js';
import {Filling} from './filling.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {LackingNote} from './lacking_note.js';
import {plannedOn} from './planned.js';
import {UpdateNote} from './update_note.js';
import {WithdrawnNote} from './withdrawn_note.js';

export function Today() {
  const today = localDate(new Date());
  const {revoked, lastSyncedAt} = useSyncStatus();
  const visits = useStored(async ({store, me}) => plannedOn(await store.cards(), today, me.id), [today]);
  return html`<${Frame} title="Today" place="/app/">
    <div class="hero">
      <h1>${sayDate(today)}</h1>
      ${visits && !revoked && (lastSyncedAt || visits.length > 0) && html`<p class="soft">${roundWords(visits)}</p>`}
    </div>
    <${WithdrawnNote} />
    <${UpdateNote} />
    <${Filling} />
    <${LackingNote} />
    ${visits && visits.length > 0 && html`<ol class="lines">
      ${visits.map((visit) => html`<li key=${visit.id}><${RoundLine} visit=${visit} /></li>`)}
    </ol>`}
    ${visits && visits.length === 0 && !revoked && lastSyncedAt && html`<div class="part">
      <p>The visits planned for you today stand here. To see someone who is not planned, find them in the caseload.</p>
      <a class="button secondary" href="/app/caseload">Open the caseload</a>
    </div>`}
  <//>`;
}

function roundWords(visits) {
  const left = visits.filter((visit) => visit.state !== 'finished').length;
  if (visits.length === 0) return 'No visits planned.';
  if (left === 0) return `All ${visits.length} visits finished.`;
  return `${sayCount(visits.length, 'visit')}, ${left} to go.`;
}

function RoundLine({visit}) {
  const {card} = visit;
  return html`<a class="line round-line" href=${`/app/client/${card.client}`}>
    <span class="clock">${sayTime(visit.time)}</span>
    <span class="whom"><span class="lead"><bdi>${card.preferred_name || card.name}</bdi></span>
      <span class="under">${STATE_WORDS[visit.state] ? `${STATE_WORDS[visit.state]} · ` : ''}${visit.purpose}</span>
      ${card.precautions.length > 0 && html`<span class="under">Know: ${card.precautions.map(inShort).join(', ')}</span>`}</span>
  </a>`;
}

/** "Other" by itself says nothing: its own words stand for it. */
function inShort({code, text}) {
  return code === 'other' && text ? text : precautionOf(code).label;
}

const STATE_WORDS = {started: 'Started, not finished', finished: 'Finished'};
