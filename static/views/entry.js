/** One entry with its whole history: what was first recorded, each correction and why. */
import {useState} from 'preact/hooks';
import {describedKinds, judgeReading, measures} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {sayDate, sayMoment} from './format.js';
import {entryFacts} from './described/words.js';
import {useDraftText} from './draft_text.js';
import {Frame, GoButton} from './frame.js';
import {html} from './html.js';
import {judgeVisit, withGravest} from './judging.js';
import {NEWER, isNewer, sortByVersion} from './kinds.js';
import {Missing} from './missing.js';
import {ReadingBlock} from './judged_reading.js';
import {NotSaved, useSaving} from './saving.js';
import {precautionOf} from './precaution_words.js';
import {chainOf, entryTitle, figureOf, targetLabel, targetRange} from './reading_words.js';
import {whoWords} from './who.js';

/** @param {{client: string, entry: string}} props */
export function Entry({client, entry}) {
  const {settings: {reassessment}} = useApp();
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    const entries = await store.entriesOf(client);
    const chain = chainOf(entries, entry);
    if (!card || chain.length === 0) return null;
    const held = (await store.outbox()).filter((row) => row.state === 'held');
    const {known} = sortByVersion(entries);
    return {card, chain, held, known, judged: chain[0].visit ? judgeVisit(known, chain[0].visit, settings) : null};
  }, [client, entry]);
  if (found === undefined) return html`<${Frame} title="Entry" back=${{path: `/app/client/${client}`, name: 'Client'}} />`;
  if (found === null) return html`<${Missing} />`;
  const {card, chain, judged, held, known} = found;
  const latest = chain.at(-1);
  const kind = chain[0].kind;
  const back = wayBack(card, chain[0].visit);
  const takenBack = chain.some((link) => link.voids);
  const refused = held.filter((row) => chain.some((link) => link.id === row.id));
  const newer = chain.some(isNewer);
  const isReading = Boolean(measures[kind]) && !newer && !takenBack;
  const described = Object.hasOwn(describedKinds, kind) && !newer && !takenBack;
  const stands = STANDING.has(kind) && !newer && !takenBack;
  const correctable = isReading && !latest.body.not_measured;
  return html`<${Frame} title=${entryTitle(chain[0])} back=${back} who=${whoWords(card)}
    next=${correctable && html`<${GoButton} kind="secondary" path=${`/app/client/${client}/entry/${latest.id}/correct`}>Correct this<//>`}>
    ${refused.map((row) => html`<${Refused} key=${row.id} row=${row} />`)}
    ${isReading ? html`<${ReadingBlock} measure=${kind} entry=${latest} judged=${judgedAlone(latest, judged)} context=${judged?.context} />`
    : html`<h1>${newer ? NEWER : entryTitle(chain[0])}</h1>`}
    ${described && html`<dl class="facts">${entryFacts(latest, known, reassessment).map(({label, words}) => html`<div><dt>${label}</dt><dd><bdi>${words}</bdi></dd></div>`)}</dl>`}
    ${stands && html`<${StandingFacts} kind=${kind} body=${latest.body} />`}
    ${newer && html`<p class="message">This version of Lintel cannot show it. It is kept whole; update the app to read it.</p>`}
    ${takenBack && html`<p class="message">This was taken back. What stood here is kept below.</p>`}
    <section class="part"><h2>History</h2>
      <ol class="lines">${chain.map((link, index) => html`<li key=${link.id} class="line">
        <span class="lead">${index === 0 ? 'First recorded' : link.voids ? 'Taken back' : link.body.ended ? 'Ended' : 'Corrected'}</span>
        <span class="side number">${measures[kind] && !newer && !link.voids ? figureOf(kind, link.body) : ''}</span>
        <span class="under">${sayMoment(link.recorded_at, link.utc_offset)}${link.reason && html` · <bdi>${link.reason}</bdi>`}</span>
      </li>`)}</ol></section>
    ${(isReading || described || stands) && refused.length === 0 && html`<${TakeBack} client=${client} entry=${latest} />`}
  <//>`;
}

const STANDING = new Set(['precaution', 'target']);

/** What stood at the door or over the readings, and until when. */
function StandingFacts({kind, body}) {
  const lead = kind === 'precaution' ? precautionOf(body.code).label : `${targetLabel(body)}, ${targetRange(body)}`;
  return html`<p><bdi>${lead}</bdi></p>${body.text && html`<p><bdi>${body.text}</bdi></p>`}
    ${body.ended && html`<p class="message">Held until ${sayDate(body.ended.day)}: <bdi>${body.ended.why}</bdi></p>`}`;
}

/** In the middle of a visit the way leads back into it. */
function wayBack({client, visits}, visitId) {
  const open = visits.some((visit) => visit.visit === visitId && visit.started && !visit.finished);
  return open ? {path: `/app/client/${client}/visit/${visitId}`, name: 'Visit'} : {path: `/app/client/${client}`, name: 'Client'};
}

/** This reading by itself: another of its kind may stand for the visit. */
function judgedAlone({kind, body}, judged) {
  return body.not_measured ? null : withGravest(judgeReading(kind, body, judged?.context ?? {}));
}

/** An entry the server did not take stays on this phone until a person decides about it. */
function Refused({row}) {
  const {store, go} = useApp();
  async function withdraw() {
    await store.saveMany([], {withdraws: [row.id]});
    go('/app/phone');
  }
  return html`<section class="message attention">
    <h2>The server did not take this</h2>
    <p>${row.message}</p>
    <button type="button" class="secondary" onClick=${() => store.sendAgain(row.id)}>Send it again</button>
    <button type="button" class="quiet" onClick=${withdraw}>Withdraw it: it no longer counts</button>
  </section>`;
}

function TakeBack({client, entry}) {
  const {save, problem: unsaved} = useSaving();
  const [open, setOpen] = useState(false);
  const [why, setWhy, forgetWhy] = useDraftText(`${client}/void:${entry.id}`);
  const [problem, setProblem] = useState(null);
  if (!open) return html`<button type="button" class="quiet" onClick=${() => setOpen(true)}>Take this entry back</button>`;
  async function takeBack(event) {
    event.preventDefault();
    if (!why.trim()) {
      setProblem('Say why, for instance: recorded for the wrong person.');
      return;
    }
    const saved = await save({kind: entry.kind, schema: entry.schema, client, visit: entry.visit, voids: entry.id, reason: why.trim(), body: {}});
    if (saved) await forgetWhy();
  }
  return html`<form onSubmit=${takeBack} novalidate autocomplete="off">
    <${NotSaved} problem=${unsaved} />
    <div class="field"><label for="void-why">Why is it taken back?</label>
      <p class="hint">It stays visible, marked as taken back, and no longer counts.</p>
      <textarea id="void-why" rows="2" autocomplete="off" value=${why} onInput=${(event) => setWhy(event.target.value)} aria-describedby=${problem ? 'void-error' : undefined}></textarea>
      ${problem && html`<p class="error" id="void-error" role="alert">${problem}</p>`}</div>
    <button type="submit" class="secondary">Take it back</button>
    <button type="button" class="quiet" onClick=${() => setOpen(false)}>Leave it as it is</button>
  </form>`;
}
