/** One client at the door: what to know before knocking, targets, the last readings, and the way into the visit. */
import {conclusions, data} from '../clinical/index.js';
import {precautionOf} from './precaution_words.js';
import {ageNow} from './age.js';
import {useApp, useStored} from './app_context.js';
import {localDate, sayCount, sayDate, sayMoment, sayTime} from './format.js';
import {segment} from './described/place.js';
import {Disagreements} from './disagreements.js';
import {dueOf, firstOf, isNow} from './due/due.js';
import {awayWords, dischargedWords, roundWords} from './due/words.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {NEWER, sortByVersion} from './kinds.js';
import {visitState} from './planned.js';
import {lastReadings, targetLabel, targetRange} from './reading_words.js';
import {isReadOnly} from './read_only.js';
import {NotSaved, useSaving} from './saving.js';
import {currentVisit, visitStart} from './visit_steps.js';
import {Missing} from './missing.js';
import {useToday} from './use_today.js';

/** @param {{client: string}} props */
export function Client({client}) {
  const today = useToday();
  const found = useStored(async ({store, me, settings, changes}) => {
    const card = await store.card(client);
    if (!card) return null;
    const {known, newer} = sortByVersion(await store.entriesOf(client));
    const readOnly = await isReadOnly(store, client);
    return {card, newer, readOnly, visit: currentVisit(card, today, me.id), readings: lastReadings(known, card),
      due: dueOf(card, settings, today, changes.of(client))};
  }, [client, today]);
  if (found === undefined) return html`<${Frame} title="Client" back=${BACK} />`;
  if (found === null) return html`<${Missing} />`;
  const {card, newer, readOnly, visit, readings, due} = found;
  return html`<${Frame} title="Client" back=${BACK} two=${true} next=${!readOnly && html`<${VisitButton} card=${card} visit=${visit} />`}>
    <div class="hero">
      <h1><bdi>${card.preferred_name || card.name}</bdi></h1>
      <p class="soft"><bdi>${card.name}</bdi>${ageNow(card) !== null && `, ${ageNow(card)} years`}</p>
      ${visit && html`<p>${visitWords(visit)}</p>`}
      <${Due} client=${client} due=${due} today=${today} />
    </div>
    ${readOnly && html`<p class="message">You read this record as the lead of the team. Whoever visits this client needs to have them in their own caseload.</p>`}
    ${card.incomplete && html`<p class="message attention">Something in this record could not be read by this version of the app. Nothing is lost; update the app when you can.</p>`}
    <${Newer} client=${client} entries=${newer} />
    <${BeforeKnocking} card=${card} />
    <${Disagreements} card=${card} readOnly=${readOnly} />
    <${Targets} card=${card} />
    <${LastNote} visits=${card.visits} />
    <${Described} client=${client} />
    <${LastReadings} client=${client} readings=${readings} />
    <${PastVisits} card=${card} />
    <p class="hint">Number of this client, for the office: ${client}</p>
  <//>`;
}

const BACK = {path: '/app/', name: 'Today'};

function VisitButton({card, visit}) {
  const {go} = useApp();
  const {save, problem} = useSaving();
  const goTo = (id) => go(`/app/client/${card.client}/visit/${id}`);
  async function start() {
    const entry = await save(visitStart(card, visit));
    if (entry) goTo(entry.visit);
  }
  if (visit?.started) return html`<button type="button" class="primary" onClick=${() => goTo(visit.visit)}>Go on with the visit</button>`;
  const seen = card.visits.some((each) => each.finished && each.date === localDate(new Date()));
  return html`<${NotSaved} problem=${problem} /><button type="button" class=${seen ? 'secondary' : 'primary'} onClick=${start}>
    ${seen ? 'Start another visit' : 'Start the visit'}</button>`;
}

function visitWords(visit) {
  if (visit.started) return 'The visit has begun and is not finished.';
  const {time, purpose} = visit.planned.body;
  return [`Planned today at ${sayTime(time)}.`, purpose].filter(Boolean).join(' ');
}

/** What to reassess, or why not now, one tap from its reasons. */
function Due({client, due: {items, away, discharged}, today}) {
  const first = firstOf(items);
  const href = `/app/client/${client}/reassessment`;
  if (discharged || away) return html`<p class="marked"><a href=${href}>${discharged ? dischargedWords(discharged) : awayWords(away)}</a></p>`;
  return first && isNow(first) ? html`<p class=${`marked ${first.state}`}><a href=${href}>${roundWords(first, today)}</a></p>` : null;
}

function BeforeKnocking({card}) {
  const {details} = card;
  return html`<section class="part">
    <h2>Before you knock</h2>
    ${card.precautions.length > 0 && html`<ul class="know">
      ${card.precautions.map((each) => html`<li><strong>${precautionOf(each.code).label}</strong>${each.text ? html`<bdi>${each.text}</bdi>` : precautionOf(each.code).words}</li>`)}
    </ul>`}
    ${card.precautions.length === 0 && html`<p>No precautions are recorded. That is not the same as none.</p>`}
    <dl class="facts">
      <${Fact} name="Address" value=${details.address} />
      <${Fact} name="Getting in" value=${details.access} />
      ${details.phone && html`<div><dt>Phone</dt><dd><a href=${`tel:${details.phone.replace(/[^+\d]/g, '')}`}>${details.phone}</a></dd></div>`}
      <${Fact} name="Language" value=${details.language} />
      <${Fact} name="Referred for" value=${details.reason_for_referral} />
      ${card.contacts.map((contact) => html`<div><dt>${contact.relation}</dt>
        <dd><bdi>${contact.name}</bdi>, <a href=${`tel:${contact.phone.replace(/[^+\d]/g, '')}`}>${contact.phone}</a></dd></div>`)}
    </dl>
  </section>`;
}

/** What this version cannot read is named at the door: the record is not whole without it. */
function Newer({client, entries}) {
  if (entries.length === 0) return null;
  return html`<section class="part message attention">
    <h2>${NEWER} of Lintel</h2>
    <p>This app cannot show ${sayCount(entries.length, 'entry', 'entries')} of this record. Nothing is lost; update the app to read ${entries.length === 1 ? 'it' : 'them'}.</p>
    <details><summary>When ${entries.length === 1 ? 'was it' : 'were they'} recorded?</summary><ul class="lines">${entries.slice(-12).map((entry) => html`<li key=${entry.id}>
      <a class="line" href=${`/app/client/${client}/entry/${entry.id}`}><span class="lead">${sayMoment(entry.recorded_at, entry.utc_offset)}</span></a></li>`)}</ul></details>
  </section>`;
}

function Fact({name, value}) {
  return value ? html`<div><dt>${name}</dt><dd><bdi>${value}</bdi></dd></div>` : null;
}

function Targets({card}) {
  if (card.targets.length === 0) return null;
  return html`<section class="part">
    <h2>Own targets</h2>
    <dl class="facts">${card.targets.map((target) => html`<div>
      <dt>${targetLabel(target)}</dt>
      <dd><span class="number">${targetRange(target)}</span><span class="soft">, set by ${target.set_by}${target.note && `. ${target.note}`}</span></dd>
    </div>`)}</dl>
  </section>`;
}

/** What is known beyond readings, to read before or after a visit. */
function Described({client}) {
  return html`<section class="part"><h2>What is known</h2><ul class="lines">${data.described.sections.map(({id, title, words}) => html`<li key=${id}>
    <a class="line" href=${`/app/client/${client}/${segment(id)}`}><span class="lead">${title}</span><span class="under">${words}</span></a></li>`)}</ul></section>`;
}

/** What the last visit left to look at stands at the door of the next. */
function LastNote({visits}) {
  const last = visits.filter((visit) => visit.finished?.body.note).at(-1);
  if (!last) return null;
  return html`<section class="part"><h2>Left by the last visit</h2>
    <p><bdi>${last.finished.body.note}</bdi></p><p class="soft">${sayDate(last.date)}</p></section>`;
}

function LastReadings({client, readings}) {
  return html`<section class="part">
    <h2>Last readings</h2>
    ${readings.length === 0 && html`<p>None yet. The first visit sets where every later one is read from.</p>`}
    ${readings.length > 0 && html`<ul class="lines">${readings.map((reading) => html`<li key=${reading.entry.id}>
      <a class=${`line level-${reading.level}`} href=${`/app/client/${client}/entry/${reading.entry.id}`}>
        <span class="lead">${reading.title}</span>
        <span class="side number">${reading.figure}</span>
        <span class="under">${sayMoment(reading.entry.recorded_at, reading.entry.utc_offset)}${reading.word && ` · ${reading.word}`}</span>
      </a></li>`)}</ul>`}
  </section>`;
}

function PastVisits({card}) {
  const past = card.visits.filter((visit) => visitState(visit) !== 'planned').slice(-12).reverse();
  if (past.length === 0) return null;
  return html`<section class="part">
    <h2>Visits</h2>
    <ul class="lines">${past.map((visit) => html`<li key=${visit.visit}><${PastVisit} client=${card.client} visit=${visit} /></li>`)}</ul>
  </section>`;
}

function PastVisit({client, visit}) {
  const chosen = visit.conclusion?.body.chosen;
  return html`<a class=${`line level-${chosen ?? 'unknown'}`} href=${`/app/client/${client}/visit/${visit.visit}`}>
    <span class="lead">${sayDate(visit.date)}</span>
    <span class="side word">${chosen ? conclusions[chosen].label : visit.finished ? '' : 'Not finished'}</span>
  </a>`;
}
