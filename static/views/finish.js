/** Finishing a visit: what it came to, read once more, a last word if one is needed, and who signs. */
import {useEffect, useState} from 'preact/hooks';
import {conclusions} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {unanswered} from './described/plan.js';
import {useDraftText} from './draft_text.js';
import {sayMoment} from './format.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {judgeVisit} from './judging.js';
import {knownEntriesOf} from './kinds.js';
import {Missing} from './missing.js';
import {NotSaved, useSaving} from './saving.js';
import {visitEntry, visitParts} from './visit_steps.js';
import {visitSummary} from './visit_summary.js';
import {whoWords} from './who.js';

/** @param {{client: string, visit: string}} props */
export function Finish({client, visit}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    if (!card) return null;
    const entries = await knownEntriesOf(store, client);
    const judged = judgeVisit(entries, visit, settings);
    return {card, open: unanswered({entries, visit, judged}), summary: visitSummary(entries, visit, visitParts(entries, visit), judged.byMeasure),
      conclusion: visitEntry(entries, visit, 'visit_conclusion'), finished: visitEntry(entries, visit, 'visit_finished')};
  }, [client, visit]);
  const base = `/app/client/${client}/visit/${visit}`;
  const back = {path: base, name: 'Visit'};
  if (found === undefined) return html`<${Frame} title="Finish" back=${back} />`;
  if (!found) return html`<${Missing} />`;
  return html`<${Sign} found=${found} client=${client} visit=${visit} base=${base} back=${back} />`;
}

function Sign({found: {card, open, summary, conclusion, finished}, client, visit, base, back}) {
  const app = useApp();
  const {save, problem} = useSaving();
  const [note, setNote, forgetNote] = useDraftText(`${client}/finish:${visit}`);
  async function finish() {
    if (!await save({kind: 'visit_finished', schema: 1, client, visit, body: {note: note.trim(), signed_by: app.me.name}})) return;
    await forgetNote();
    app.go('/app/');
  }
  const settled = useSettled();
  const next = !finished && html`<button type="button" class="primary" disabled=${!settled} onClick=${finish}>Sign and finish</button>`;
  return html`<${Frame} title="Finish" back=${back} who=${whoWords(card)} next=${next}>
    <${NotSaved} problem=${problem} />
    <div class="hero"><h1>Finish the visit</h1><p class="soft">Read once more what will stand in the record.</p></div>
    <${Recorded} summary=${summary} base=${base} />
    <${LeftOut} left=${summary.left} base=${base} />
    ${summary.described.map(({title, lines}) => html`<section class="part" key=${title}><h2>${title}</h2><ul class="lines">${lines.map(({lead, side}) => html`<li class="line">
      <span class="lead"><bdi>${lead}</bdi></span><span class="side"><bdi>${side}</bdi></span></li>`)}</ul></section>`)}
    <${Concluded} conclusion=${conclusion} base=${base} />
    ${open.length > 0 && html`<p class="message attention">Readings have changed and the plan was not looked at again. <a href=${`${base}/plan`}>Look at the plan</a></p>`}
    ${!finished && html`<div class="field">
      <label for="note">Anything to add <span class="optional">if it helps</span></label>
      <p class="hint" id="note-hint">What you told the client, whom you informed, what to look at next time.</p>
      <textarea autocomplete="off" id="note" rows="5" aria-describedby="note-hint" value=${note} onInput=${(event) => setNote(event.target.value)}></textarea>
    </div>`}
    <section class="part"><h2>Signature</h2><p>${finished ? signedWords(finished, app.me)
    : html`<bdi>${app.me.name}</bdi> signs, with the moment at which "Sign and finish" is pressed. Later corrections stand beside it, with their reasons.`}</p></section>
  <//>`;
}

// "Accept" lies on the same spot one screen before: the second tap of a shaking thumb must not sign.
const SETTLES_AFTER = 700;

function useSettled() {
  const [settled, setSettled] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setSettled(true), SETTLES_AFTER);
    return () => clearTimeout(timer);
  }, []);
  return settled;
}

/**
 * Who signed a finished visit: the name stands in the signature. Visits signed before names were kept say "a colleague".
 * @param {object} finished  @param {{id: string, name: string}} me
 */
export function signedWords(finished, me) {
  const who = finished.body?.signed_by || (finished.author === me.id ? me.name : 'a colleague');
  return html`Signed by <bdi>${who}</bdi>, ${sayMoment(finished.recorded_at, finished.utc_offset)}`;
}

function Recorded({summary: {recorded}, base}) {
  return html`<section class="part"><h2>Measured</h2>
    ${recorded.length === 0 && html`<p>Nothing was measured.</p>`}
    <ul class="lines">${recorded.map(({id, title, figure, word, level}) => html`<li key=${id}><a class=${`line level-${level}`} href=${`${base}/${id}`}>
      <span class="lead">${title}</span><span class="side number">${figure}</span>${word && html`<span class="under">${word}</span>`}</a></li>`)}</ul></section>`;
}

function LeftOut({left, base}) {
  if (left.length === 0) return null;
  return html`<section class="part"><h2>Left out</h2><ul class="lines">${left.map(({id, title, why}) => html`<li key=${id}><a class="line" href=${`${base}/${id}`}>
    <span class="lead">${title}</span><span class="under"><bdi>${why}</bdi></span></a></li>`)}</ul></section>`;
}

function Concluded({conclusion, base}) {
  if (!conclusion) return html`<p class="message attention">Nothing was concluded yet. <a href=${`${base}/conclusion`}>Read the conclusion</a></p>`;
  const {chosen, suggested, override_reason: why} = conclusion.body;
  return html`<section class="part"><h2>Concluded</h2><a class="line" href=${`${base}/conclusion`}><span class="lead">${conclusions[chosen].label}</span>
    ${chosen !== suggested && html`<span class="under">Suggested: ${conclusions[suggested].label.toLowerCase()}</span>`}
    ${why && html`<span class="under"><bdi>${why}</bdi></span>`}</a></section>`;
}
