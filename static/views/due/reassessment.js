/** Reassessment of one client: what is due and why, what can be done about it, what was done before. */
import {data, describedItems, reassessmentFacts, dueItems} from '../../clinical/index.js';
import {useApp} from '../app_context.js';
import {sayDate, sayTime} from '../format.js';
import {GoButton} from '../frame.js';
import {html} from '../html.js';
import {currentVisit} from '../visit_steps.js';
import {useToday} from '../use_today.js';
import {Line, SectionFrame, itemsOf} from '../described/parts.js';
import {choiceLabel, sayEnded} from '../described/words.js';
import {calendarOf, isNow, plannedVisits} from './due.js';
import {keySegment} from './keys.js';
import {History} from './history.js';
import {awayWords, dischargedWords, itemTitle, ruleKind, stateWords} from './words.js';

/** @param {{client: string, visit?: string}} props */
export function Reassessment({client, visit}) {
  const today = useToday();
  const {settings, me} = useApp();
  const place = (found) => (visit ? found.base : baseNow(found, today, me));
  return html`<${SectionFrame} client=${client} visit=${visit} section="reassessment" next=${(found) => !found.readOnly && html`<${Next} found=${found} today=${today} place=${place(found)} />`}>
    ${(found) => html`<${Overview} found=${found} told=${toldOf(found, settings, today)} today=${today} place=${place(found)} />`}<//>`;
}

/** From the record itself, not from the card: what was saved a moment ago counts. */
function toldOf({entries}, settings, today) {
  const calendar = calendarOf(settings, today);
  return dueItems(reassessmentFacts(entries, settings.reassessment, calendar.zone), calendar, settings.reassessment);
}

/** In the middle of a visit what is recorded here belongs to it, also when one came here past it. */
function baseNow({card, base}, today, me) {
  const visit = currentVisit(card, today, me.id);
  return visit?.started && visit.date === today ? `${base}/visit/${visit.visit}` : base;
}

/** Unless a visit for it has to be found first, the bar at the bottom asks for what was done. */
const barRecords = ({card, base, visit}, today, place) => Boolean(visit) || place !== base || plannedVisits(card, today).length > 0;

function Next({found, today, place}) {
  const {base, visit} = found;
  if (visit || place !== base) return html`<${GoButton} path=${`${place}/describe/reassessed`}>Record what was reassessed<//>`;
  if (!barRecords(found, today, place)) return html`<${GoButton} path=${`${base}/plan-visit`}>Put it into a round<//>`;
  return html`<${GoButton} kind="secondary" path=${`${base}/describe/reassessed`}>Record what was reassessed<//>`;
}

function Overview({found, told, today, place}) {
  const {items, away, discharged, unusable} = told;
  const {card, client, readOnly, visit, base} = found;
  const [next] = plannedVisits(card, today);
  return html`
    ${discharged && html`<section class="message"><h2>${dischargedWords(discharged)}</h2><p>Nothing is due any more.</p></section>`}
    ${away && html`<section class="message"><h2>${awayWords(away)}</h2><p>What stops meanwhile and what runs on is told with each rule.</p></section>`}
    ${unusable.map((words) => html`<p class="question" key=${words}>${words}</p>`)}
    ${items.length === 0 && !discharged && html`<p>No day is known yet. Days are counted from the first visit, or from a day that is written down.</p>`}
    ${items.map((item) => html`<${Item} key=${item.key} item=${item} today=${today} base=${base} readOnly=${readOnly} />`)}
    ${next && !visit && html`<p>Next visit: ${sayDate(next.date)}, ${sayTime(next.planned.body.time)}.${' '}
      ${!readOnly && html`<a href=${`/app/client/${client}/plan-visit`}>Put a reassessment into a round</a>`}</p>`}
    ${!readOnly && html`<${Acts} found=${found} told=${told} place=${place} records=${!barRecords(found, today, place)} />`}
    <${OwnRules} found=${found} />
    <${History} entries=${found.entries} client=${client} />`;
}

function Item({item, today, base, readOnly}) {
  const {title, status} = data.sources[item.source] ?? {};
  return html`<section class=${`part due-item ${item.state}`}>
    <h2>${itemTitle(item)}</h2>
    <p class=${`marked ${item.state}`}>${stateWords(item, today)}</p>
    <p>${item.why}</p>
    <details><summary>${ruleKind(item)}: where it comes from</summary><p><bdi>${title}</bdi></p>${status && html`<p class="soft">${status}</p>`}</details>
    ${!readOnly && item.due && (isNow(item) || item.state === 'later') && html`<a class="button quiet" href=${`${base}/describe/postponement/${keySegment(item.key)}`}
      aria-label=${`Put off: ${itemTitle(item)}`}>Put off</a>`}
  </section>`;
}

/** What changes when something is due; each has a form of its own. */
function Acts({found: {entries, base}, told: {away, discharged}, place, records}) {
  const pauses = itemsOf(entries, 'pause').open;
  const discharges = itemsOf(entries, 'discharge').open;
  const [period] = describedItems(entries, 'care_period');
  const lines = [
    records && {path: `${place}/describe/reassessed`, lead: 'Record what was reassessed', under: 'It counts from the day of the visit, or from today.'},
    ...pauses.map(({item, fields}) => ({path: `${base}/describe/pause/${item}`, lead: 'Back, or change the pause', under: awayWords(fields)})),
    pauses.length === 0 && !away && !discharged && {path: `${base}/describe/pause`, lead: 'Pause', under: 'In hospital, travelling, or otherwise away.'},
    {path: `${base}/describe/care_period`, lead: 'Period of care', under: periodWords(period?.fields)},
    ...discharges.map(({item, fields}) => ({path: `${base}/describe/discharge/${item}`, lead: 'Take up again, or change the discharge', under: dischargedWords(fields)})),
    discharges.length === 0 && {path: `${base}/describe/discharge`, lead: 'Discharge', under: 'Care ends; nothing comes due any more.'},
    {path: `${base}/describe/client_rules`, lead: 'The service’s rules for this client', under: 'Which hold besides, which do not, and why.'},
  ].filter(Boolean);
  return html`<section class="part"><h2>What has changed</h2><ul class="lines">${lines.map(({path, lead, under}) => html`<li key=${path}>
    <${Line} href=${path} lead=${lead} under=${under} /></li>`)}</ul></section>`;
}

function periodWords({starts_on: starts, ends_on: ends} = {}) {
  const parts = [starts && `Began ${sayDate(starts)}`, ends && `ends ${sayDate(ends)}`].filter(Boolean);
  return parts.length ? parts.join(', ') : 'The start of care is not written down yet.';
}

function OwnRules({found: {entries, base, readOnly}}) {
  const {open, ended} = itemsOf(entries, 'reassessment_rule');
  if (readOnly && open.length + ended.length === 0) return null;
  const line = ({item, fields}, words) => html`<li key=${item}><${Line} href=${!readOnly && `${base}/describe/reassessment_rule/${item}`}
    lead=${fields.name} under=${[words, fields.why]} /></li>`;
  return html`<section class="part"><h2>Own rules for this client</h2>
    ${open.length > 0 && html`<ul class="lines">${open.map((each) => line(each, ruleWords(each.fields)))}</ul>`}
    ${!readOnly && html`<${GoButton} kind="secondary" path=${`${base}/describe/reassessment_rule`}>Add an own rule<//>`}
    ${ended.length > 0 && html`<details><summary>Ended: own rules</summary><ul class="lines">${ended.map((each) => line(each, sayEnded('reassessment_rule', each.fields.ended)))}</ul></details>`}
  </section>`;
}

/** "At least every so many days: 14" */
const ruleWords = ({type, days, visits}) => `${choiceLabel('reassessment_rule', 'type', type)}: ${type === 'after_visits' ? visits : days}`;
