/** Daily life: what the client does in their own words, how it goes, against the last visit. */
import {chapterPicture} from '../../charts/chapters.js';
import {dailyLife, data, degrees} from '../../clinical/index.js';
import {GoButton} from '../frame.js';
import {html} from '../html.js';
import {activitiesToAsk} from './due.js';
import {Ended, Line, SectionFrame, itemsOf} from './parts.js';
import {choiceLabel} from './words.js';

/** @param {{client: string, visit?: string}} props */
export function DailyLife({client, visit}) {
  const seen = ({entries}) => dailyLife(entries, visit ?? null);
  return html`<${SectionFrame} client=${client} visit=${visit} section="daily_life" next=${(found) => visit && html`<${Next} found=${found} life=${seen(found)} />`}>
    ${(found) => html`<${Life} found=${found} life=${seen(found)} />`}<//>`;
}

function Next({found: {base}, life}) {
  const [open] = activitiesToAsk(life);
  if (!open) return html`<${Add} base=${base} kind="primary" />`;
  return html`<${GoButton} path=${`${base}/describe/activity_rating/${open.item}`}><span class="few-lines">How it goes: ${open.fields.name ?? 'an activity'}</span><//>`;
}

function Add({base, kind}) {
  return html`<${GoButton} kind=${kind} path=${`${base}/describe/activity`}>Add an activity<//>`;
}

function Life({found: {entries, base, visit}, life}) {
  const {activities, chapters} = life;
  const rated = chapters.some(({now, before}) => sum(now) + sum(before) > 0);
  return html`${activities.length === 0 && html`<p>None yet. Ask what a usual day is like, and what the client misses.</p>`}
    ${chapters.map((chapter) => html`<section class="part" key=${chapter.chapter}><h2>${chapter.label}</h2>
      <ul class="lines">${activities.filter((each) => each.chapter === chapter.chapter).map((each) => html`<li key=${each.item}>
        <${Activity} activity=${each} base=${base} visit=${visit} /></li>`)}</ul></section>`)}
    ${visit && activitiesToAsk(life).length > 0 && html`<${Add} base=${base} kind="secondary" />`}
    ${rated && html`<${Picture} chapters=${chapters} />`}
    <${Ended} kind="activity" items=${itemsOf(entries, 'activity').ended} base=${base} visit=${visit} />`;
}

const sum = (counts) => Object.values(counts).reduce((so, count) => so + count, 0);
const degree = (rating) => choiceLabel('activity_rating', 'difficulty', rating.fields.difficulty).toLowerCase();

function Activity({activity: {item, fields, now, before, change}, base, visit}) {
  const against = [before && `Last time: ${degree(before)}`, change && data.activities.compared[change].label.toLowerCase()].filter(Boolean).join(' · ');
  const how = now && [now.fields.help && choiceLabel('activity_rating', 'help', now.fields.help), now.fields.help_note, now.fields.equipment,
    choiceLabel('activity_rating', 'told_by', now.fields.told_by)].filter(Boolean).join(' · ');
  const matters = [fields.matters === 'most' && 'Matters most', fields.why].filter(Boolean).join(': ');
  return html`<${Line} href=${visit && `${base}/describe/activity_rating/${item}`} lead=${fields.name}
    side=${now ? `Difficulty: ${degree(now)}` : visit ? 'To ask' : 'Not rated'} under=${[against, how, matters]} />`;
}

/** One row a chapter, one column a degree; filled is now, hollow the last time. The same numbers stand in the table. */
function Picture({chapters}) {
  const {width, height, columns, rows} = chapterPicture(degrees, chapters);
  const {qualifiers} = data.activities;
  const label = (id) => qualifiers.find((each) => each.id === id).label;
  return html`<section class="part"><h2>At a glance</h2>
    <p class="soft">How many activities stand where. Filled: now. Hollow: the last time.</p>
    <svg class="chapters" viewBox=${`0 0 ${width} ${height}`} aria-hidden="true">
      ${columns.map(({id, x}) => html`<text class="head" x=${x} y="20" text-anchor="middle">${label(id)}</text><line x1=${x} x2=${x} y1="30" y2=${height} />`)}
      ${rows.map((row) => html`<text class="row" x="4" y=${row.top}>${row.label}</text>
        ${row.now.map(({x, y, r, count}) => html`<circle class="now" cx=${x} cy=${y} r=${r} /><text class="in" x=${x} y=${y + 5} text-anchor="middle">${count}</text>`)}
        ${row.before.map(({x, y, r, count}) => html`<circle class="before" cx=${x} cy=${y} r=${r - 1} /><text x=${x} y=${y + 5} text-anchor="middle">${count}</text>`)}`)}
    </svg>
    <details><summary>The same numbers as a table</summary><div class="wide-table"><table>
      <caption>Number of activities: now (last time)</caption>
      <thead><tr><th scope="col">Chapter</th>${qualifiers.map(({label: words}) => html`<th scope="col">${words}</th>`)}<th scope="col">Better, same, worse</th></tr></thead>
      <tbody>${chapters.map((row) => html`<tr><th scope="row">${row.label}</th>
        ${qualifiers.map(({id}) => html`<td>${row.now[id]} (${row.before[id]})</td>`)}<td>${row.better}, ${row.same}, ${row.worse}</td></tr>`)}</tbody>
    </table></div></details>
    <p class="soft">Codes of the WHO's ICF; words are ours. Fewer difficulties is not a score of the person.</p></section>`;
}
