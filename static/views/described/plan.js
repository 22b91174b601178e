/** The plan: problems, what is done about them, precautions, own targets, when to look again. */
import {changedReadings, describedKinds, observations} from '../../clinical/index.js';
import {sayDate, sayMoment} from '../format.js';
import {GoButton} from '../frame.js';
import {html} from '../html.js';
import {precautionOf} from '../precaution_words.js';
import {targetLabel, targetRange} from '../reading_words.js';
import {Disagreements} from '../disagreements.js';
import {Ended, Line, SectionFrame, itemsOf} from './parts.js';
import {choiceLabel} from './words.js';

/** @param {{client: string, visit?: string}} props */
export function Plan({client, visit}) {
  return html`<${SectionFrame} client=${client} visit=${visit} section="plan" next=${(found) => visit && html`<${Next} found=${found} />`}>
    ${(found) => html`<${Changed} found=${found} /><${Problems} found=${found} /><${Precautions} found=${found} /><${Targets} found=${found} />
      <${Reassessment} found=${found} /><${Reviews} found=${found} />`}<//>`;
}

/** What changed against the client's own baseline and was not yet answered at this visit. */
export function unanswered({entries, visit, judged}) {
  if (!judged || observations(entries, 'plan_review').some((each) => each.visit === visit)) return [];
  return changedReadings(judged.bodies, judged.context);
}

function Next({found}) {
  const {base, entries} = found;
  if (unanswered(found).length > 0) return html`<${GoButton} path=${`${base}/describe/plan_review`}>Say what changed, and why<//>`;
  return html`<${Add} base=${base} what=${itemsOf(entries, 'problem').open.length > 0 ? 'intervention' : 'problem'} kind="primary" />`;
}

const ADD = {problem: 'Add a problem', intervention: 'Add what is done'};

function Add({base, what, kind = 'secondary'}) {
  return html`<${GoButton} kind=${kind} path=${`${base}/describe/${what}`}>${ADD[what]}<//>`;
}

function Changed({found}) {
  const changed = unanswered(found);
  if (changed.length === 0) return null;
  return html`<section class="message attention"><h2>Readings have changed</h2>
    <ul class="cautions">${changed.map(({measure, word, because}) => html`<li key=${measure + word}><strong>${word}.</strong> ${because}</li>`)}</ul>
    <p>Does the plan still fit? Say what changed and why, also when it stays.</p></section>`;
}

function Problems({found}) {
  const {entries, base, visit} = found;
  const asked = unanswered(found).length > 0;  // then the bar at the bottom asks for that, and adding is offered here
  const {open, ended} = itemsOf(entries, 'problem');
  const done = itemsOf(entries, 'intervention');
  const known = new Set(open.map(({item}) => item));
  const loose = done.open.filter(({fields}) => !known.has(fields.problem));
  const lines = (list) => html`<ul class="lines">${list.map(({item, fields}) => html`<li key=${item}><${Line} href=${visit && `${base}/describe/intervention/${item}`}
    lead=${fields.name} under=${[fields.frequency, fields.who].filter(Boolean).join(' · ')} /></li>`)}</ul>`;
  return html`<section class="part"><h2>Problems</h2>
    ${open.length === 0 && html`<p>None recorded yet.</p>`}
    ${open.map(({item, fields}) => html`<div class="part" key=${item}><h3>${visit ? html`<a href=${`${base}/describe/problem/${item}`}><bdi>${fields.name}</bdi></a>` : html`<bdi>${fields.name}</bdi>`}</h3>
      ${lines(done.open.filter((each) => each.fields.problem === item))}</div>`)}
    ${loose.length > 0 && html`<h3>Also done</h3>${lines(loose)}`}
    ${visit && asked && open.length > 0 && html`<${Add} base=${base} what="intervention" />`}
    ${visit && (asked || open.length > 0) && html`<${Add} base=${base} what="problem" />`}
    <${Ended} kind="problem" items=${ended} base=${base} visit=${visit} /><${Ended} kind="intervention" items=${done.ended} base=${base} visit=${visit} /></section>`;
}

/** What no longer holds stays readable: until when it held, and why it ended. */
function EndedStanding({title, client, over, lead}) {
  if (over.length === 0) return null;
  return html`<details><summary>${title}</summary><ul class="lines">${over.map((each) => html`<li key=${each.entry}>
    <${Line} href=${`/app/client/${client}/entry/${each.entry}`} lead=${lead(each)} under=${[each.text, `Until ${sayDate(each.ended.day)}`, each.ended.why]} /></li>`)}</ul></details>`;
}

function Precautions({found: {card, client, base, readOnly}}) {
  return html`<section class="part"><h2>Precautions</h2>
    ${card.precautions.length === 0 && html`<p>${card.ended.precaution.length > 0 ? 'None holds now. That is not the same as none.' : 'None recorded. That is not the same as none.'}</p>`}
    <ul class="lines">${card.precautions.map(({code, text, entry}) => html`<li key=${entry}><${Line} href=${!readOnly && `${base}/standing/${entry}`} lead=${precautionOf(code).label} under=${text || precautionOf(code).words} /></li>`)}</ul>
    ${!readOnly && html`<${GoButton} kind="secondary" path=${`${base}/precaution`}>Add a precaution<//>`}
    <${EndedStanding} title="Ended: precautions" client=${client} over=${card.ended.precaution} lead=${({code}) => precautionOf(code).label} /></section>`;
}

function Targets({found: {card, client, base, readOnly}}) {
  return html`<section class="part"><h2>Own targets</h2>
    <${Disagreements} card=${{...card, disagreements: card.disagreements.filter(({field}) => field.startsWith('target.'))}} readOnly=${readOnly} />
    ${card.targets.length === 0 && html`<p>None set. Readings are held against the adult range.</p>`}
    <ul class="lines">${card.targets.map((target) => html`<li key=${target.entry}><${Line} href=${!readOnly && `${base}/standing/${target.entry}`} lead=${targetLabel(target)}
      side=${targetRange(target)} under=${[`Set by ${target.set_by}`, target.note]} /></li>`)}</ul>
    ${!readOnly && html`<${GoButton} kind="secondary" path=${`${base}/target`}>Set a target<//>`}
    <${EndedStanding} title="Ended: own targets" client=${client} over=${card.ended.target} lead=${(each) => `${targetLabel(each)}, ${targetRange(each)}`} /></section>`;
}

function Reassessment({found: {entries, base, visit}}) {
  const next = itemsOf(entries, 'reassessment').open[0]?.fields;
  return html`<section class="part"><h2>Next reassessment</h2>
    ${next ? html`<${Line} href=${visit && `${base}/describe/reassessment`} lead=${next.date && sayDate(next.date)} under=${next.reason} />`
    : html`<p>No day is set.</p>${visit && html`<${GoButton} kind="secondary" path=${`${base}/describe/reassessment`}>Set the day<//>`}`}</section>`;
}

function Reviews({found: {entries}}) {
  const reviews = observations(entries, 'plan_review').slice(-6).reverse();
  if (reviews.length === 0) return null;
  return html`<section class="part"><h2>${describedKinds.plan_review.many}</h2><ul class="lines">${reviews.map(({entry, recorded_at: at, fields}) => html`<li key=${entry}>
    <${Line} lead=${choiceLabel('plan_review', 'outcome', fields.outcome)} under=${[fields.why, sayMoment(at)]} /></li>`)}</ul></section>`;
}
