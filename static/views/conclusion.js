/** What the visit comes to, with its reasons, for the therapist to accept or to decide otherwise. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {conclusionOrder, conclusions, dataVersion, measures} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {useDraftText} from './draft_text.js';
import {sayMoment} from './format.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {judgeVisit} from './judging.js';
import {knownEntriesOf} from './kinds.js';
import {LevelMark} from './marks.js';
import {Missing} from './missing.js';
import {NotSaved, useSaving} from './saving.js';
import {Verdict} from './verdict.js';
import {EarlyWarning} from './early_warning.js';
import {visitEntry} from './visit_steps.js';
import {whoWords} from './who.js';

/** @param {{client: string, visit: string}} props */
export function Conclusion({client, visit}) {
  const [otherwise, setOtherwise] = useState(false);
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    if (!card) return null;
    const entries = await knownEntriesOf(store, client);
    return {card, ...judgeVisit(entries, visit, settings), recorded: visitEntry(entries, visit, 'visit_conclusion')};
  }, [client, visit]);
  const base = `/app/client/${client}/visit/${visit}`;
  const back = {path: base, name: 'Visit'};
  if (found === undefined) return html`<${Frame} title="Conclusion" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  const {card, conclusion, recorded} = found;
  const next = otherwise ? null : html`<${Accept} found=${found} client=${client} visit=${visit} />`;
  return html`<${Frame} title="Conclusion" back=${back} who=${whoWords(card)} next=${next}>
    <div class="hero"><h1>What this visit comes to</h1></div>
    <${Verdict} level=${conclusion.conclusion} />
    ${otherwise
    ? html`<${Otherwise} found=${found} client=${client} visit=${visit} onCancel=${() => setOtherwise(false)} />`
    : html`<${Reasons} conclusion=${conclusion} />
      <${EarlyWarning} bodies=${found.bodies} context=${found.context} />
      ${recorded && html`<${Recorded} entry=${recorded} />`}
      <button type="button" class="secondary" onClick=${() => setOtherwise(true)}>Decide otherwise</button>`}
    <p class="soft">This is support for your judgement and never a diagnosis. Local protocol and your licensed practice come first.</p>
  <//>`;
}

function Reasons({conclusion}) {
  return html`<section class="part">
    <h2>Because</h2>
    <ul>${conclusion.reasons.map((reason) => html`<li class=${`finding level-${reason.level}`}>
      <${LevelMark} level=${reason.level} />
      <div>${reason.measure && html`<span class="against">${measures[reason.measure].title}</span>`}<span>${reason.because}</span></div>
    </li>`)}</ul>
  </section>`;
}

function Recorded({entry}) {
  const {chosen, suggested, override_reason: why} = entry.body;
  return html`<section class="part">
    <h2>Recorded</h2>
    <p>${conclusions[chosen].label}, ${sayMoment(entry.recorded_at, entry.utc_offset)}${chosen !== suggested && `, where ${conclusions[suggested].label.toLowerCase()} was suggested`}.</p>
    ${why && html`<p><bdi>${why}</bdi></p>`}
  </section>`;
}

function Accept({found, client, visit}) {
  const {label} = conclusions[found.conclusion.conclusion];
  const {record, problem} = useRecord(found, client, visit);
  return html`<${NotSaved} problem=${problem} /><button type="button" class="primary" onClick=${() => record(found.conclusion.conclusion, null)}>Accept: ${label.toLowerCase()}</button>`;
}

/** Records the therapist's decision; a later one amends the one before, so that both stay visible. */
function useRecord({conclusion, recorded}, client, visit) {
  const {go} = useApp();
  const {save, problem} = useSaving();
  async function record(chosen, why) {
    const entry = await save({
      kind: 'visit_conclusion', schema: 1, client, visit,
      ...(recorded ? {amends: recorded.id, reason: why ?? 'Concluded again after further readings'} : {}),
      body: {suggested: conclusion.conclusion, chosen, reasons: conclusion.reasons.map((reason) => reason.rule),
        override_reason: why, missing: conclusion.missing, data_version: dataVersion},
    });
    if (entry) go(`/app/client/${client}/visit/${visit}/finish`);
    return entry;
  }
  return {record, problem};
}

function Otherwise({found, client, visit, onCancel}) {
  const [chosen, setChosen] = useState('');
  const [why, setWhy, forgetWhy] = useDraftText(`${client}/otherwise:${visit}`);
  const [problem, setProblem] = useState(null);
  const {record, problem: unsaved} = useRecord(found, client, visit);
  const form = useRef(null);
  useEffect(() => form.current.scrollIntoView(), []);
  function save(event) {
    event.preventDefault();
    if (!chosen) setProblem({field: 'chosen', message: 'Choose what you decide.'});
    else if (!why.trim()) setProblem({field: 'why', message: 'Say why in a few words. The next person will want to know.'});
    else record(chosen, why.trim()).then((recorded) => recorded && forgetWhy());
  }
  return html`<form onSubmit=${save} novalidate autocomplete="off" ref=${form}>
    <${NotSaved} problem=${unsaved} />
    <fieldset class="field">
      <legend>What do you decide?</legend>
      <div class="options">${conclusionOrder.map((id) => html`<label class="option">
        <input type="radio" name="chosen" value=${id} checked=${chosen === id} onChange=${() => setChosen(id)} /><span>${conclusions[id].label}</span>
      </label>`)}</div>
      ${problem?.field === 'chosen' && html`<p class="error" role="alert">${problem.message}</p>`}
    </fieldset>
    <div class="field">
      <label for="why">Why?</label>
      <textarea autocomplete="off" id="why" rows="3" value=${why} onInput=${(event) => setWhy(event.target.value)}
        aria-invalid=${problem?.field === 'why' ? 'true' : undefined} aria-describedby=${problem?.field === 'why' ? 'why-error' : undefined}></textarea>
      ${problem?.field === 'why' && html`<p class="error" id="why-error" role="alert">${problem.message}</p>`}
    </div>
    <button type="submit" class="primary">Record this decision</button>
    <button type="button" class="quiet" onClick=${onCancel}>Back to the suggestion</button>
  </form>`;
}
