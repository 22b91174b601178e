/** Precautions and own targets: set, changed with a reason, ended with a reason. */
import {useState} from 'preact/hooks';
import {measureOrder, measures, parseNumber, precautions, unitLabel} from '../../clinical/index.js';
import {useApp, useStored} from '../app_context.js';
import {useDraftText} from '../draft_text.js';
import {localDate} from '../format.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {Missing} from '../missing.js';
import {precautionOf} from '../precaution_words.js';
import {NotSaved, useSaving} from '../saving.js';
import {whoWords} from '../who.js';
import {placeOf} from './place.js';

const ASKED = {code: 'Choose what to know.', text: 'Say what it is.', field: 'Choose which value.', low: 'Give at least one end of the range.',
  set_by: 'Say who set it: a name and where they work.', reason: 'Say why in a few words. The next person will want to know.'};

function usePlace({client, visit}) {
  const found = useStored(async ({store}) => ({card: await store.card(client)}), [client]);
  const {base} = placeOf({client, visit});
  return {card: found?.card, waiting: found === undefined, back: {path: `${base}/plan`, name: 'Plan'}};
}

function TextField({id, label, hint, rows, value, onInput, problem, optional}) {
  const described = [hint && `${id}-hint`, problem && `${id}-error`].filter(Boolean).join(' ') || undefined;
  const common = {id, autocomplete: 'off', value, 'aria-describedby': described, 'aria-invalid': problem ? 'true' : undefined, onInput: (event) => onInput(event.target.value)};
  return html`<div class="field"><label for=${id}>${label}${optional && html` <span class="optional">if it helps</span>`}</label>
    ${hint && html`<p class="hint" id=${`${id}-hint`}>${hint}</p>`}
    ${rows ? html`<textarea rows=${rows} ...${common}></textarea>` : html`<input type="text" ...${common} />`}
    ${problem && html`<p class="error" role="alert" id=${`${id}-error`}>${problem}</p>`}</div>`;
}

/** @param {{client: string, visit?: string}} props */
export function NewPrecaution({client, visit}) {
  const {card, waiting, back} = usePlace({client, visit});
  const {go} = useApp();
  const {save, problem: unsaved} = useSaving();
  const [code, setCode, forgetCode] = useDraftText(`${client}/precaution-code`);
  const [text, setText, forget] = useDraftText(`${client}/precaution`);
  const [problem, setProblem] = useState(null);
  if (waiting) return html`<${Frame} title="Precaution" back=${back} />`;
  if (!card) return html`<${Missing} />`;
  async function submit(event) {
    event.preventDefault();
    const wrong = !code ? 'code' : code === 'other' && !text.trim() ? 'text' : null;
    setProblem(wrong);
    if (wrong || !await save({kind: 'precaution', schema: 1, client, visit: visit ?? null, body: {code, text: text.trim() || null}})) return;
    await Promise.all([forget(), forgetCode()]);
    go(back.path);
  }
  return html`<${Frame} title="Precaution" back=${back} who=${whoWords(card)} next=${html`<button type="submit" form="precaution" class="primary">Save</button>`}>
    <div class="hero"><h1>Add a precaution</h1><p class="soft">It stands at the door of every visit until it is ended.</p></div>
    <${NotSaved} problem=${unsaved} />
    <form id="precaution" onSubmit=${submit} novalidate autocomplete="off">
      <fieldset class="field"><legend>What to know</legend><div class="options">${Object.entries(precautions).map(([id, {label}]) => html`<label class="option">
        <input type="radio" name="code" value=${id} checked=${code === id} onChange=${() => setCode(id)} /><span>${label}</span></label>`)}</div>
        ${problem === 'code' && html`<p class="error" role="alert">${ASKED.code}</p>`}</fieldset>
      <${TextField} id="precaution-text" label="In your words" rows="3" optional=${code !== 'other'} value=${text} onInput=${setText} problem=${problem === 'text' && ASKED.text} />
    </form><//>`;
}

const TARGETS = measureOrder.flatMap((measure) => Object.entries(measures[measure].facts)
  .filter(([, fact]) => fact.target).map(([field, fact]) => ({measure, field, label: fact.label, unit: unitLabel(fact.unit)})));

/** The body of a target from what was typed, or the field that is wrong and why. */
export function targetFrom({field, low, high, set_by: setBy, note}) {
  const chosen = TARGETS.find((each) => `${each.measure}.${each.field}` === field);
  if (!chosen) return {problem: {field: 'field', message: ASKED.field}};
  const ends = {};
  for (const [end, typed] of Object.entries({low, high})) {
    const parsed = typed.trim() ? parseNumber(typed, 1) : {value: null};
    if (parsed.message) return {problem: {field: end, message: parsed.message}};
    ends[end] = parsed.value;
  }
  if (ends.low === null && ends.high === null) return {problem: {field: 'low', message: ASKED.low}};
  if (ends.low !== null && ends.high !== null && Number(ends.low) > Number(ends.high)) {
    return {problem: {field: 'low', message: 'The lower end is above the upper end. Exchange the two numbers.'}};
  }
  if (!setBy.trim()) return {problem: {field: 'set_by', message: ASKED.set_by}};
  return {body: {measure: chosen.measure, field: chosen.field, ...ends, set_by: setBy.trim(), note: note.trim() || null}};
}

/** @param {{client: string, visit?: string}} props */
export function NewTarget({client, visit}) {
  const {card, waiting, back} = usePlace({client, visit});
  if (waiting) return html`<${Frame} title="Target" back=${back} />`;
  if (!card) return html`<${Missing} />`;
  return html`<${TargetForm} card=${card} client=${client} visit=${visit ?? null} back=${back} />`;
}

/** A new target, or with `old` one that takes its place, with the reason. */
function TargetForm({card, client, visit, back, old}) {
  const {go} = useApp();
  const {save, problem: unsaved} = useSaving();
  const key = old ? old.entry : client;
  const [field, setField, forgetField] = useDraftText(`${client}/target-field:${key}`, old ? `${old.measure}.${old.field}` : '');
  const [low, setLow, forgetLow] = useDraftText(`${client}/target-low:${key}`, old?.low ?? '');
  const [high, setHigh, forgetHigh] = useDraftText(`${client}/target-high:${key}`, old?.high ?? '');
  const [setBy, setSetBy, forgetSetBy] = useDraftText(`${client}/target-by:${key}`, old?.set_by ?? '');
  const [note, setNote, forgetNote] = useDraftText(`${client}/target-note:${key}`, old?.note ?? '');
  const [reason, setReason, forgetReason] = useDraftText(`${client}/target-reason:${key}`);
  const [problem, setProblem] = useState(null);
  const wrong = (name) => problem?.field === name && problem.message;
  async function submit(event) {
    event.preventDefault();
    const read = targetFrom({field, low, high, set_by: setBy, note});
    const found = read.problem ?? (old && !reason.trim() ? {field: 'reason', message: ASKED.reason} : null);
    setProblem(found);
    if (found) return;
    if (!await save({kind: 'target', schema: 1, client, visit, body: read.body, ...(old ? {amends: old.entry, reason: reason.trim()} : {})})) return;
    await Promise.all([forgetField(), forgetLow(), forgetHigh(), forgetSetBy(), forgetNote(), forgetReason()]);
    go(back.path);
  }
  const unit = TARGETS.find((each) => `${each.measure}.${each.field}` === field)?.unit;
  return html`<${Frame} title="Target" back=${back} who=${whoWords(card)} next=${html`<button type="submit" form="target" class="primary">Save</button>`}>
    <div class="hero"><h1>${old ? 'Change this target' : 'Set a target'}</h1><p class="soft">Readings are held against it until it is ended. Somebody entitled to must have set it.</p></div>
    <${NotSaved} problem=${unsaved} />
    <form id="target" onSubmit=${submit} novalidate autocomplete="off">
      <div class="field"><label for="target-field">For which value</label>
        <select id="target-field" autocomplete="off" disabled=${Boolean(old)} value=${field} onChange=${(event) => setField(event.target.value)}>
          <option value="" selected=${!field}>Choose</option>
          ${TARGETS.map((each) => html`<option value=${`${each.measure}.${each.field}`} selected=${field === `${each.measure}.${each.field}`}>${measures[each.measure].title}: ${each.label}</option>`)}</select>
        ${wrong('field') && html`<p class="error" role="alert">${problem.message}</p>`}</div>
      <${TextField} id="target-low" label=${`Not below${unit ? `, in ${unit}` : ''}`} optional=${true} value=${low} onInput=${setLow} problem=${wrong('low')} />
      <${TextField} id="target-high" label=${`Not above${unit ? `, in ${unit}` : ''}`} optional=${true} value=${high} onInput=${setHigh} problem=${wrong('high')} />
      <${TextField} id="target-by" label="Who set it" value=${setBy} onInput=${setSetBy} problem=${wrong('set_by')} />
      <${TextField} id="target-note" label="Note" rows="2" optional=${true} value=${note} onInput=${setNote} />
      ${old && html`<${TextField} id="target-reason" label="Why is it changed?" rows="2" value=${reason} onInput=${setReason} problem=${wrong('reason')} />`}
    </form>
    ${old && html`<${End} client=${client} visit=${visit} kind="target" standing=${old} back=${back} />`}<//>`;
}

/** A precaution or target that stands: read it, end it; a target can be changed. @param {{client: string, visit?: string, entry: string}} props */
export function Standing({client, visit, entry}) {
  const {card, waiting, back} = usePlace({client, visit});
  if (waiting) return html`<${Frame} title="Plan" back=${back} />`;
  const target = card?.targets.find((each) => each.entry === entry);
  const precaution = card?.precautions.find((each) => each.entry === entry);
  if (target) return html`<${TargetForm} key=${entry} card=${card} client=${client} visit=${visit ?? null} back=${back} old=${target} />`;
  if (!precaution) return html`<${Missing} />`;
  return html`<${Frame} title="Precaution" back=${back} who=${whoWords(card)}>
    <div class="hero"><h1>${precautionOf(precaution.code).label}</h1></div>
    <p>${precautionOf(precaution.code).words}</p>${precaution.text && html`<p><bdi>${precaution.text}</bdi></p>`}
    <${End} client=${client} visit=${visit ?? null} kind="precaution" standing=${precaution} back=${back} /><//>`;
}

/** It held until today: that is another thing than taking back what was never right. It stays with its day and reason. */
function End({client, visit, kind, standing: {entry, ...body}, back}) {
  const {go} = useApp();
  const {save, problem: unsaved} = useSaving();
  const [why, setWhy, forget] = useDraftText(`${client}/end:${entry}`);
  const [problem, setProblem] = useState(null);
  async function end(event) {
    event.preventDefault();
    setProblem(why.trim() ? null : ASKED.reason);
    if (!why.trim() || !await save({kind, schema: 1, client, visit, amends: entry, reason: why.trim(), body: endedBody(body, why.trim())})) return;
    await forget();
    go(back.path);
  }
  return html`<form onSubmit=${end} novalidate autocomplete="off"><h2>End this ${kind}</h2><${NotSaved} problem=${unsaved} />
    <${TextField} id="end-why" label="Why does it end?" hint="It stays in the record with today's date and your reason, and no longer counts." rows="2" value=${why} onInput=${setWhy} problem=${problem} />
    <button type="submit" class="secondary">End it today</button></form>
    <p><a href=${`/app/client/${client}/entry/${entry}`}>Recorded by mistake? Take the entry back instead</a></p>`;
}

const endedBody = (body, why) => ({...body, ended: {day: localDate(new Date()), why}});
