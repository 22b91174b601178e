/** Putting a reassessment into a round: at a visit that is planned already, or at a new one on a day one chooses. */
import {useState} from 'preact/hooks';
import {useApp, useStored} from '../app_context.js';
import {useDraftText} from '../draft_text.js';
import {sayCount, sayDate, sayTime} from '../format.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {Missing} from '../missing.js';
import {plannedOn} from '../planned.js';
import {NotSaved, useSaving} from '../saving.js';
import {useToday} from '../use_today.js';
import {whoWords} from '../who.js';
import {calendarOf, dueOf, firstOf, isNow, plannedVisits} from './due.js';
import {firstDay, reasonFor, saysSo, visitFrom, visitWith} from './placing.js';
import {stateWords} from './words.js';

const USUAL = {time: '09:00', minutes: '45'};  // our choice: what stands in the fields to begin with

/** @param {{client: string}} props */
export function PlaceVisit({client}) {
  const today = useToday();
  const found = useStored(async ({store, settings, changes, me}) => {
    const cards = await store.cards();
    const card = cards.find((each) => each.client === client);
    if (!card) return null;
    const {items} = dueOf(card, settings, today, changes.of(client));
    const wanted = items.filter(isNow);
    const first = firstOf(items);
    return {card, first, reason: reasonFor(wanted.length ? wanted : [first].filter(Boolean)), day: firstDay(first, calendarOf(settings, today)),
      planned: plannedVisits(card, today), roundOf: (date) => plannedOn(cards, date, me.id)};
  }, [client, today]);
  const back = {path: `/app/client/${client}/reassessment`, name: 'Reassessment'};
  if (found === undefined) return html`<${Frame} title="Into a round" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  return html`<${Frame} title="Into a round" back=${back} who=${whoWords(found.card)}
    next=${html`<button type="submit" form="place" class="primary">Plan this visit</button>`}>
    <div class="hero"><h1>Put into a round</h1>${found.first && html`<p class="soft">${stateWords(found.first, today)}</p>`}</div>
    <${AlreadyPlanned} found=${found} back=${back} />
    <${NewVisit} found=${found} today=${today} back=${back} />
  <//>`;
}

function AlreadyPlanned({found: {card, planned, reason}, back}) {
  const {go} = useApp();
  const {save, problem} = useSaving();
  const place = async (visit) => { if (await save(visitWith(visit, card.client, reason))) go(back.path); };
  if (planned.length === 0) return null;
  return html`<section class="part"><h2>At a visit that is planned</h2><${NotSaved} problem=${problem} />
    ${planned.slice(0, 4).map((visit) => {
      const when = `${sayDate(visit.date)}, ${sayTime(visit.planned.body.time)}`;
      return html`<div key=${visit.visit} class="part">
        <p><strong>${when}</strong>${visit.planned.body.purpose && html` <bdi>${visit.planned.body.purpose}</bdi>`}</p>
        ${saysSo(visit, reason) ? html`<p class="soft">It says that a reassessment is due.</p>`
        : html`<button type="button" class="secondary" onClick=${() => place(visit)}>Do it at this visit</button>`}</div>`;
    })}</section>`;
}

function NewVisit({found: {card, day, reason, planned, roundOf}, today, back}) {
  const {go, me} = useApp();
  const {client} = card;
  const {save, problem: unsaved} = useSaving();
  const [date, setDate, forgetDate] = useDraftText(`${client}/plan-date`, day);
  const [time, setTime, forgetTime] = useDraftText(`${client}/plan-time`, USUAL.time);
  const [minutes, setMinutes, forgetMinutes] = useDraftText(`${client}/plan-minutes`, USUAL.minutes);
  const [purpose, setPurpose, forgetPurpose] = useDraftText(`${client}/plan-purpose`, reason);
  const [problem, setProblem] = useState(null);
  async function submit(event) {
    event.preventDefault();
    const read = visitFrom({date, time, minutes, purpose}, {client, today, therapist: me.id});
    setProblem(read.problem ?? null);
    if (read.problem) return document.getElementById(`place-${read.problem.field}`)?.focus();
    if (!await save(read.draft)) return undefined;
    await Promise.all([forgetDate(), forgetTime(), forgetMinutes(), forgetPurpose()]);
    return go(back.path);
  }
  const field = (id, label, control) => html`<div class="field"><label for=${`place-${id}`}>${label}</label>${control({
    id: `place-${id}`, autocomplete: 'off', 'aria-invalid': problem?.field === id ? 'true' : undefined,
    'aria-describedby': problem?.field === id ? `place-${id}-error` : undefined})}
    ${problem?.field === id && html`<p class="error" id=${`place-${id}-error`} role="alert">${problem.message}</p>`}</div>`;
  return html`<section class="part"><h2>${planned.length > 0 ? 'At another visit' : 'At a new visit'}</h2><${NotSaved} problem=${unsaved} />
    <form id="place" onSubmit=${submit} novalidate autocomplete="off">
      ${field('date', 'Day', (common) => html`<input type="date" ...${common} min=${today} value=${date} onInput=${(event) => setDate(event.target.value)} />`)}
      <${Round} date=${date} visits=${roundOf(date)} />
      ${field('time', 'Time', (common) => html`<input type="time" ...${common} value=${time} onInput=${(event) => setTime(event.target.value)} />`)}
      ${field('minutes', 'Minutes', (common) => html`<input type="text" inputmode="numeric" class="short" ...${common} value=${minutes} onInput=${(event) => setMinutes(event.target.value)} />`)}
      ${field('purpose', 'What for', (common) => html`<textarea rows="2" ...${common} value=${purpose} onInput=${(event) => setPurpose(event.target.value)}></textarea>`)}
    </form></section>`;
}

/** What the chosen day holds already, so that the new visit finds its gap. */
function Round({date, visits}) {
  if (!date) return null;
  return html`<p class="soft" role="status">${visits.length === 0 ? 'No visits of yours are planned on that day.'
    : `On that day: ${sayCount(visits.length, 'visit')} of yours, at ${visits.map((visit) => sayTime(visit.time)).join(', ')}.`}</p>`;
}
