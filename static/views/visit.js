/** A visit as a list of its parts, in any order, with one next step. */
import {conclusions} from '../clinical/index.js';
import {useStored} from './app_context.js';
import {sayDay, sayMoment} from './format.js';
import {Frame, GoButton} from './frame.js';
import {html} from './html.js';
import {judgeVisit, stillHolds} from './judging.js';
import {knownEntriesOf} from './kinds.js';
import {Missing} from './missing.js';
import {figureOf} from './reading_words.js';
import {whoWords} from './who.js';
import {visitEntry, visitParts} from './visit_steps.js';

/** @param {{client: string, visit: string}} props */
export function Visit({client, visit}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    if (!card) return null;
    const entries = await knownEntriesOf(store, client);
    return {card, judged: judgeVisit(entries, visit, settings), parts: visitParts(entries, visit),
      started: visitEntry(entries, visit, 'visit_started'), finished: visitEntry(entries, visit, 'visit_finished'),
      conclusion: visitEntry(entries, visit, 'visit_conclusion')};
  }, [client, visit]);
  const back = {path: `/app/client/${client}`, name: 'Client'};
  if (found === undefined) return html`<${Frame} title="Visit" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  const {card, parts, judged, started, finished, conclusion} = found;
  const base = `/app/client/${client}/visit/${visit}`;
  const outrun = conclusion && !finished && !stillHolds(conclusion, judged.conclusion);
  return html`<${Frame} title="Visit" back=${back} who=${whoWords(card)} next=${nextStep({parts, base, conclusion, finished, outrun})}>
    <div class="hero">
      <h1>${started ? sayDay(started.recorded_at, started.utc_offset) : 'Visit'}</h1>
      ${finished && html`<p class="soft">Finished ${sayMoment(finished.recorded_at, finished.utc_offset)}</p>`}
      ${!finished && started?.body.first && html`<p class="soft">Vital signs first: how the client is now, and what later visits are read against.</p>`}
    </div>
    ${outrun && html`<p class="message attention">Readings have come or changed since you concluded. Read the conclusion again before you finish.</p>`}
    <ol class="lines">${parts.map((part) => html`<li key=${part.id}><${Part} part=${part} base=${base} judgement=${judged.byMeasure[part.id]} /></li>`)}</ol>
    ${conclusion && html`<${Concluded} conclusion=${conclusion} base=${base} />`}
    ${finished?.body.note && html`<section class="part"><h2>Note</h2><p><bdi>${finished.body.note}</bdi></p></section>`}
    ${!conclusion && !finished && parts.some((part) => !part.entry)
    && html`<${GoButton} kind="quiet" path=${`${base}/conclusion`}>Conclude without the rest<//>`}
  <//>`;
}

function nextStep({parts, base, conclusion, finished, outrun}) {
  if (finished) return null;
  if (outrun) return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion again<//>`;
  const open = parts.find((part) => !part.entry);
  if (conclusion) return html`<${GoButton} path=${`${base}/finish`}>Finish the visit<//>`;
  if (open) return html`<${GoButton} path=${`${base}/${open.id}`}>${open.title}<//>`;
  return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion<//>`;
}

function Part({part, base, judgement}) {
  const {entry} = part;
  const also = part.others.some((each) => !each.repeated) ? 'another reading counts as well' : null;
  const under = [judgement?.word, also].filter(Boolean).join(' · ');
  return html`<a class=${`line level-${judgement?.level ?? 'unknown'}`} href=${`${base}/${part.id}`}>
    <span class="lead">${part.title}</span>
    <span class="side number">${entry ? figureOf(part.id, entry.body, judgement?.judgement.facts) : 'To do'}</span>
    ${under && html`<span class="under">${under}</span>`}
  </a>`;
}

function Concluded({conclusion, base}) {
  const {chosen, override_reason: why} = conclusion.body;
  return html`<a class="line" href=${`${base}/conclusion`}>
    <span class="lead">Conclusion</span>
    <span class="side">${conclusions[chosen].label}</span>
    ${why && html`<span class="under">Decided otherwise: <bdi>${why}</bdi></span>`}
  </a>`;
}
