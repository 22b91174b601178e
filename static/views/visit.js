/** A visit as a list of its parts, in any order, with one next step. */
import {conclusions} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {dueWords} from './described/due.js';
import {unanswered} from './described/plan.js';
import {dueOf, firstOf, isNow} from './due/due.js';
import {roundWords} from './due/words.js';
import {signedWords} from './finish.js';
import {sayDay} from './format.js';
import {Frame, GoButton} from './frame.js';
import {html} from './html.js';
import {judgeVisit, stillHolds} from './judging.js';
import {knownEntriesOf} from './kinds.js';
import {Missing} from './missing.js';
import {lastLine, readingsBefore} from './last_time.js';
import {figureOf} from './reading_words.js';
import {useToday} from './use_today.js';
import {whoWords} from './who.js';
import {openPart, visitEntry, visitSections} from './visit_steps.js';

/** @param {{client: string, visit: string}} props */
export function Visit({client, visit}) {
  const {me} = useApp();
  const today = useToday();
  const found = useStored(async ({store, settings, changes}) => {
    const card = await store.card(client);
    if (!card) return null;
    const entries = await knownEntriesOf(store, client);
    const judged = judgeVisit(entries, visit, settings);
    return {card, judged, toAnswer: unanswered({entries, visit, judged}).length > 0, sections: visitSections(entries, {client, visit}, await store.draftKeys()),
      before: readingsBefore(entries, visit), due: dueWords(entries, visit),
      reassess: firstOf(dueOf(card, settings, today, changes.of(client)).items),
      started: visitEntry(entries, visit, 'visit_started'), finished: visitEntry(entries, visit, 'visit_finished'),
      conclusion: visitEntry(entries, visit, 'visit_conclusion')};
  }, [client, visit, today]);
  const back = {path: `/app/client/${client}`, name: 'Client'};
  if (found === undefined) return html`<${Frame} title="Visit" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  const {card, toAnswer, sections, reassess, judged, started, finished, conclusion} = found;
  // A visit that is signed asks for nothing any more.
  const asked = finished ? {before: {}, due: {}} : found;
  const open = openPart(sections.flatMap((section) => section.parts));
  const base = `/app/client/${client}/visit/${visit}`;
  const outrun = conclusion && !finished && !stillHolds(conclusion, judged.conclusion);
  return html`<${Frame} title="Visit" back=${back} who=${whoWords(card)} next=${nextStep({open, base, conclusion, finished, outrun})}>
    <div class="hero">
      <h1>${started ? sayDay(started.recorded_at, started.utc_offset) : 'Visit'}</h1>
      ${finished && html`<p class="soft">${signedWords(finished, me)}</p>`}
      ${!finished && started?.body.first && html`<p class="soft">Vital signs first: how the client is now, and what later visits are read against.</p>`}
    </div>
    ${outrun && html`<p class="message attention">Readings have come or changed since you concluded. Read the conclusion again before you finish.</p>`}
    ${!finished && toAnswer && html`<p class="message attention">Readings have changed. <a href=${`${base}/plan`}>Say in the plan what that means</a></p>`}
    ${!finished && reassess && isNow(reassess) && html`<p class=${`marked ${reassess.state}`}><a href=${`${base}/reassessment`}>${roundWords(reassess, today)}</a></p>`}
    ${blocksOf(sections, finished).map((block) => html`<${Block} key=${block[0].id} block=${block} byMeasure=${judged.byMeasure} asked=${asked} />`)}
    ${conclusion && html`<${Concluded} conclusion=${conclusion} base=${base} />`}
    ${finished?.body.note && html`<section class="part"><h2>Note</h2><p><bdi>${finished.body.note}</bdi></p></section>`}
    ${!conclusion && !finished && open && html`<${GoButton} kind="quiet" path=${`${base}/conclusion`}>Conclude without the rest<//>`}
  <//>`;
}

function nextStep({open, base, conclusion, finished, outrun}) {
  if (finished) return null;
  if (outrun) return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion again<//>`;
  if (conclusion) return html`<${GoButton} path=${`${base}/finish`}>Finish the visit<//>`;
  if (open) return html`<${GoButton} path=${`${base}/${open.id}`}>${open.title}<//>`;
  return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion<//>`;
}

/** Sections of several lines stand by themselves under a heading; those of one line that follow each other share a list. */
function blocksOf(sections, finished) {
  const blocks = [];
  for (const section of sections) {
    // What was never begun at a finished visit is not offered any more.
    const parts = section.parts.filter((part) => part.counts || part.entry || !finished);
    const lines = parts.length + (section.screen ? 1 : 0);
    const single = lines === 1;
    if (single && blocks.at(-1)?.single) blocks.at(-1).push({...section, parts});
    else if (lines > 0) blocks.push(Object.assign([{...section, parts}], {single}));
  }
  return blocks;
}

function Block({block, byMeasure, asked}) {
  return html`<section class="part">
    ${!block.single && html`<h2>${block[0].title}</h2>`}
    <ol class="lines">${block.flatMap(({id, title, parts, screen}) => [
      ...parts.map((part) => html`<li key=${part.id}><${Part} part=${part} judgement=${byMeasure[part.id]} before=${asked.before[part.id]} /></li>`),
      screen && html`<li key=${screen.path}><a class="line" href=${screen.path}><span class="lead">${title}</span>
        <span class="side soft">${asked.due[id] ?? (screen.recorded > 0 ? `${screen.recorded} recorded` : 'If useful')}</span></a></li>`,
    ])}</ol></section>`;
}

function Part({part, judgement, before}) {
  const {entry} = part;
  const also = part.others.some((each) => !each.repeated) ? 'another reading counts as well' : null;
  const under = entry ? [judgement?.word, also].filter(Boolean).join(' · ') : lastLine(before);
  return html`<a class=${`line level-${judgement?.level ?? 'unknown'}`} href=${part.path}>
    <span class="lead">${part.title}</span>
    <span class="side number">${entry ? figureOf(part.id, entry.body, judgement?.judgement.facts) : stateWords(part)}</span>
    ${under && html`<span class="under">${under}</span>`}
  </a>`;
}

function stateWords({begun, counts}) {
  if (begun) return 'Begun, not saved';
  return counts ? 'To do' : 'If useful';
}

function Concluded({conclusion, base}) {
  const {chosen, override_reason: why} = conclusion.body;
  return html`<a class="line" href=${`${base}/conclusion`}>
    <span class="lead">Conclusion</span>
    <span class="side">${conclusions[chosen].label}</span>
    ${why && html`<span class="under">Decided otherwise: <bdi>${why}</bdi></span>`}
  </a>`;
}
