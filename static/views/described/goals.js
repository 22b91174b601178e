/** Goals in five described levels, where the client stands, and the score of them all where there can be one. */
import {data, goalsOverview} from '../../clinical/index.js';
import {sayCount, sayDate} from '../format.js';
import {GoButton} from '../frame.js';
import {html} from '../html.js';
import {cannotBeScored, goalsToReview} from './due.js';
import {Ended, Line, SectionFrame, itemsOf} from './parts.js';
import {choiceLabel} from './words.js';

/** @param {{client: string, visit?: string}} props */
export function Goals({client, visit}) {
  const seen = ({entries}) => goalsOverview(entries, visit ?? null);
  return html`<${SectionFrame} client=${client} visit=${visit} section="goals" next=${(found) => visit && html`<${Next} found=${found} overview=${seen(found)} />`}>
    ${(found) => html`<${Overview} found=${found} overview=${seen(found)} />`}<//>`;
}

function Next({found: {base}, overview}) {
  const [open] = goalsToReview(overview);
  if (!open) return html`<${Add} base=${base} kind="primary" />`;
  return html`<${GoButton} path=${`${base}/describe/goal_review/${open.item}`}><span class="few-lines">Review: ${open.fields.name ?? 'a goal'}</span><//>`;
}

function Add({base, kind}) {
  return html`<${GoButton} kind=${kind} path=${`${base}/describe/goal`}>Add a goal<//>`;
}

function Overview({found: {entries, base, visit}, overview}) {
  const open = overview.goals.filter(({fields}) => !fields.ended);
  return html`${open.length === 0 && html`<p>None yet. A goal is what the client wants to do, with five levels anybody could tell apart.</p>`}
    ${open.length > 0 && html`<ul class="lines">${open.map((goal) => html`<li key=${goal.item}><${Goal} goal=${goal} base=${base} visit=${visit} /></li>`)}</ul>`}
    ${visit && goalsToReview(overview).length > 0 && html`<${Add} base=${base} kind="secondary" />`}
    <${Score} overview=${overview} />
    <${Ended} kind="goal" items=${itemsOf(entries, 'goal').ended} base=${base} visit=${visit} />`;
}

function Goal({goal, base, visit}) {
  const {item, fields, now, before, problems} = goal;
  const level = (id) => choiceLabel('goal_review', 'level', id);
  const where = cannotBeScored(goal) ? 'goal' : 'goal_review';
  const standing = now ? describedLevel(fields, now.fields.level) : null;
  const earlier = [fields.baseline && `At the start: ${level(fields.baseline)}`, before && `Last time: ${level(before.fields.level)}`,
    fields.review_on && `Review on ${sayDate(fields.review_on)}`].filter(Boolean).join(' · ');
  return html`<${Line} href=${visit && `${base}/describe/${where}/${item}`} lead=${fields.name}
    side=${now ? level(now.fields.level) : cannotBeScored(goal) ? 'Cannot be scored yet' : visit ? 'To review' : 'Not reviewed'} under=${[standing, earlier]} />
    ${problems.map(({code, stops, message}) => html`<p key=${code} class=${stops ? 'question' : 'soft'}>${message}</p>`)}`;
}

const describedLevel = (fields, id) => fields[data.goals.levels.find((each) => each.id === id)?.field];

function Score({overview: {now, baseline, before, scored, weighted, goals}}) {
  if (now === null) return null;
  const {words, source} = data.goals;
  return html`<section class="reading part"><h2>All goals together</h2>
    <p class="figure">T ${now}</p>
    <p>${baseline} at the start${before !== null && `, ${before} at the review before`}. From ${scored} of ${sayCount(goals.length, 'goal')}.</p>
    <p class="soft">${words.meaning} ${weighted ? words.weighted : words.unweighted}</p>
    <details><summary>Why this number?</summary><p>${data.sources[source].note}</p><p class="soft">${data.sources[source].title}</p></details>
  </section>`;
}
