/** Ending something that is described: how, on which day. It stays readable. */
import {useState} from 'preact/hooks';
import {checkDescribed, describedKinds} from '../../clinical/index.js';
import {useApp} from '../app_context.js';
import {useDraftText} from '../draft_text.js';
import {localDate, sayDate} from '../format.js';
import {html} from '../html.js';
import {NotSaved, useSaving} from '../saving.js';
import {changeOf} from './form_state.js';
import {sayEnded} from './words.js';

/** @param {{kind: string, item: object, place: {client: string, visit: string|null, back: {path: string}}}} props */
export function EndItem({kind, item, place: {client, visit, back}}) {
  const {go} = useApp();
  const {save, problem} = useSaving();
  const {ends, fields, end_day: asksDay = false} = describedKinds[kind];  // the day may be learnt of later, as a way home from hospital
  const [only] = ends.length === 1 ? ends : [];
  const begins = fields.find(({type}) => type === 'day');
  const [how, setHow] = useState(only?.id ?? '');
  const [note, setNote, forgetNote] = useDraftText(`${client}/end:${item.item}`);
  const [day, setDay, forgetDay] = useDraftText(`${client}/end-day:${item.item}`, localDate(new Date()));
  const [missing, setMissing] = useState(false);
  const [wrong, setWrong] = useState('');
  const {ended} = item.fields;
  async function record(value) {
    const body = changeOf(kind, {ended: value}, item);
    const [refused] = checkDescribed(kind, body, localDate(new Date()));
    const early = asksDay && value && value.day < (item.fields[begins.id] ?? '') ? `This lies before ${sayDate(item.fields[begins.id])}, when it began. Choose a later day.` : null;
    setWrong(early ?? refused?.message ?? '');
    if (early || refused || !await save({kind, schema: 1, client, visit, body})) return;
    await Promise.all([forgetNote(), forgetDay()]);
    go(back.path);
  }
  function end(event) {
    event.preventDefault();
    setMissing(!how);
    if (how) record({how, day: asksDay ? day : localDate(new Date()), note: note.trim() || null});
  }
  if (ended) return html`<section class="part"><h2>Ended</h2><p>${sayEnded(kind, ended)}</p>
    ${ended.note && html`<p><bdi>${ended.note}</bdi></p>`}<${NotSaved} problem=${problem} />
    <button type="button" class="secondary" onClick=${() => record(null)}>It goes on again</button></section>`;
  const form = html`<form id="end-item" onSubmit=${end} novalidate autocomplete="off">
    <${NotSaved} problem=${problem} />
    ${!only && html`<fieldset class="field"><legend>How did it end?</legend>
      <div class="options">${ends.map((each) => html`<label class="option">
        <input type="radio" name="how" value=${each.id} checked=${how === each.id} onChange=${() => setHow(each.id)} /><span>${each.label}</span></label>`)}</div>
      ${missing && !how && html`<p class="error" role="alert">Choose how it ended.</p>`}</fieldset>`}
    ${asksDay && html`<div class="field"><label for="end-day">From which day?</label>
      <input id="end-day" type="date" autocomplete="off" value=${day} onInput=${(event) => setDay(event.target.value)} aria-invalid=${wrong ? 'true' : undefined}
        aria-describedby=${wrong ? 'end-wrong' : undefined} />
      ${wrong && html`<p class="error" id="end-wrong" role="alert">${wrong}</p>`}</div>`}
    <div class="field"><label for="end-note">Anything else <span class="optional">if it helps</span></label>
      <textarea id="end-note" rows="2" autocomplete="off" value=${note} onInput=${(event) => setNote(event.target.value)}></textarea>
      ${wrong && !asksDay && html`<p class="error" role="alert">${wrong}</p>`}</div>
    ${!asksDay && html`<button type="submit" class="secondary">End it today</button>`}</form>`;
  // Where its day is asked for, ending it is what one came for: the bar at the bottom saves it.
  return asksDay ? form : html`<details><summary>End this</summary>${form}</details>`;
}
