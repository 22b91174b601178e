/** Today's round: whom the therapist visits, in the order of the day. */
import {precautionOf} from './precaution_words.js';
import {useStored, useSyncStatus} from './app_context.js';
import {dueOf, firstOf, isNow} from './due/due.js';
import {awayWords, roundWords as dueWords} from './due/words.js';
import {sayCount, sayDate, sayTime} from './format.js';
import {Filling} from './filling.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {LackingNote} from './lacking_note.js';
import {plannedOn} from './planned.js';
import {UpdateNote} from './update_note.js';
import {useToday} from './use_today.js';
import {WithdrawnNote} from './withdrawn_note.js';

export function Today() {
  const today = useToday();
  const {revoked, lastSyncedAt} = useSyncStatus();
  const visits = useStored(async ({store, me, settings, changes}) => plannedOn(await store.cards(), today, me.id)
    .map((visit) => ({...visit, due: dueOf(visit.card, settings, today, changes.of(visit.card.client))})), [today]);
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
      ${visits.map((visit) => html`<li key=${visit.id}><${RoundLine} visit=${visit} today=${today} /></li>`)}
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

function RoundLine({visit, today}) {
  const {card} = visit;
  return html`<a class="line round-line" href=${`/app/client/${card.client}`}>
    <span class="clock">${sayTime(visit.time)}</span>
    <span class="whom"><span class="lead"><bdi>${card.preferred_name || card.name}</bdi></span>
      <span class="under">${STATE_WORDS[visit.state] ? `${STATE_WORDS[visit.state]} · ` : ''}${visit.purpose}</span>
      ${card.precautions.length > 0 && html`<span class="under">Know: ${card.precautions.map(inShort).join(', ')}</span>`}
      <${RoundDue} due=${visit.due} today=${today} /></span>
  </a>`;
}

/** Whether this visit is one at which to reassess, or one to somebody who is away. */
function RoundDue({due: {items, away}, today}) {
  if (away) return html`<span class="under marked">${awayWords(away)}</span>`;
  const first = firstOf(items);
  return first && isNow(first) ? html`<span class=${`under marked ${first.state}`}>${dueWords(first, today)}</span>` : null;
}

/** "Other" by itself says nothing: its own words stand for it. */
function inShort({code, text}) {
  return code === 'other' && text ? text : precautionOf(code).label;
}

const STATE_WORDS = {started: 'Started, not finished', finished: 'Finished'};
