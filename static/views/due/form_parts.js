/** What the forms about reassessment show beside their fields: what is put off, which rules there are, which dates a rule gives. */
import {useMemo} from 'preact/hooks';
import {careFacts, data, dueItems, knownRules, reassessmentFacts} from '../../clinical/index.js';
import {useApp} from '../app_context.js';
import {bodyFrom} from '../described/form_state.js';
import {sayDate} from '../format.js';
import {html} from '../html.js';
import {useToday} from '../use_today.js';
import {calendarOf} from './due.js';
import {roundsOf} from './rounds.js';
import {stateWords} from './words.js';

const ROUNDS = 4;  // of a preview: enough to see where the days fall

/** The item a postponement is about, as it stands now; null when it is not due any more. */
export function itemOf(entries, key, settings, today) {
  const calendar = calendarOf(settings, today);
  const facts = reassessmentFacts(entries, settings.reassessment, calendar.zone);
  return dueItems(facts, calendar, settings.reassessment).items.find((item) => item.key === key) ?? null;
}

/** What is wrong with putting an item off to a day. @param {object|null} item @param {{fields: object}} body */
export function putOffWrong(item, {fields: {until}}) {
  const due = item?.put_off ? item.put_off.until : item?.due;
  if (!due || until > due) return [];
  return [{field: 'until', code: 'not_later', message: `It is due on ${sayDate(due)} already. Choose a later day.`}];
}

/** @param {{item: object|null}} props */
export function PutOffNote({item}) {
  const today = useToday();
  if (!item) return html`<p class="message">This is not due any more. Nothing needs to be put off.</p>`;
  return html`<div class="part"><p class=${`marked ${item.state}`}>${stateWords(item, today)}</p><p>${item.why}</p>
    ${item.legal && html`<p class="question">This is a legal limit${item.limit && ` (${sayDate(item.limit)})`}. Putting it off says when and why it will be late; it does not move the limit.</p>`}</div>`;
}

/**
 * The rules a service's list can be changed by for one client: those in force can be left out, the others added.
 * @param {string} field "added" or "left_out" @param {object} service @param {string[]} chosen
 */
export function rulesToChoose(field, service, chosen) {
  const inForce = new Set(service?.in_force ?? data.reassessment.in_force);
  const known = knownRules(service);
  const fits = (id) => inForce.has(id) === (field === 'left_out');
  const ids = [...new Set([...[...known.keys()].filter(fits), ...chosen])];
  return ids.map((id) => ({id, title: known.get(id)?.title ?? id}));
}

/** The dates an own rule gives for this client, while it is being written. @param {{raw: object, entries: object[]}} props */
export function RulePreview({raw, entries}) {
  const today = useToday();
  const {settings} = useApp();
  const {body: {set}} = bodyFrom('reassessment_rule', raw, {today});
  const facts = useMemo(() => careFacts(entries, settings.calendar.zone), [entries]);  // not anew at every key
  const rounds = roundsOf(facts, set, calendarOf(settings, today), ROUNDS);
  return html`<section class="part preview"><h2>What it would give</h2>${previewWords(rounds, set.type, today)}</section>`;
}

function previewWords(rounds, type, today) {
  if (rounds === null) return html`<p class="soft">Choose when, and how many: the dates stand here before you save.</p>`;
  if (rounds.length === 0) return html`<p>No date yet. ${WAITS[type]}</p>`;
  if (!rounds[0].due) return html`<p>No date yet. ${rounds[0].why}</p>`;
  return html`<ol class="lines">${rounds.filter(({due}) => due).map(({due}, place) => html`<li class="line" key=${due}>
      <span class="lead">${sayDate(due)}</span><span class="side soft">${place > 0 ? 'then' : due < today ? 'has gone by' : ''}</span></li>`)}</ol>
    <p class="soft">If each is done on its day. ${rounds[0].why}${type === 'after_visits' ? ` A visit every ${data.reassessment.preview.visits_every_days} days is assumed.` : ''}</p>`;
}

const WAITS = {
  every_days: 'The days count from the first visit or the last reassessment, and there was none yet.',
  after_visits: 'Visits are counted, and there was none yet.',
  before_end: 'Write down when the period of care ends; the rule counts back from that day.',
};
