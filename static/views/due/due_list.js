/** What is due, week by week, overdue first: one's own clients, and for a lead the team's. Works without signal. */
import {useApp, useStored, useSyncStatus} from '../app_context.js';
import {Filling} from '../filling.js';
import {sayDate, sayTime} from '../format.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {useToday} from '../use_today.js';
import {WithdrawnNote} from '../withdrawn_note.js';
import {byWeek, dueLines} from './due.js';
import {countWords, groupTitle, itemTitle, stateWords} from './words.js';

/** Of these a visit is proposed on the list itself; the rest has time. */
const PLACED = new Set(['overdue', 'week', 'next_week']);
const FOLDED = new Set(['of', 'waiting', 'away']);

export function DueList() {
  const today = useToday();
  const {me} = useApp();
  const {lastSyncedAt} = useSyncStatus();
  const found = useStored(async ({store, settings, changes}) => {
    const [cards, cursor] = await Promise.all([store.cards(), store.cursor()]);
    return {lines: dueLines(cards, settings, today, changes.of), others: new Set(cursor.caseload?.read_only ?? [])};
  }, [today]);
  const groups = found ? byWeek(found.lines, today) : [];
  return html`<${Frame} title="Due" place="/app/due">
    <div class="hero"><h1>Due</h1>
      ${found && (lastSyncedAt || found.lines.length > 0) && html`<p class="soft" role="status">${countWords(found.lines)}</p>`}
      ${me.role === 'lead' && html`<p class="soft">Your own clients and those of your teams.</p>`}</div>
    <${WithdrawnNote} />
    <${Filling} />
    ${groups.map((group) => html`<${Group} key=${group.id} group=${group} today=${today} others=${found.others} />`)}
    ${found && groups.length === 0 && lastSyncedAt && html`<p>When a reassessment comes due by the service’s rules or by one of your own, it stands here with its day and its reason.</p>`}
    <p><a href="/app/reminders">Reminders: when, and how to be told</a></p>
  <//>`;
}

function Group({group, today, others}) {
  const lines = html`<ul class="lines">${group.lines.map((line) => html`<li key=${`${line.card.client}/${line.item.key}`}>
    <${Line} line=${line} today=${today} other=${others.has(line.card.client)} place=${PLACED.has(group.title)} /></li>`)}</ul>`;
  if (FOLDED.has(group.title)) return html`<details><summary>${groupTitle(group)} (${group.lines.length})</summary>${lines}</details>`;
  return html`<section class="part"><h2>${groupTitle(group)}</h2>${lines}</section>`;
}

function Line({line: {card, item, visit}, today, other, place}) {
  const base = `/app/client/${card.client}`;
  return html`<a class="line" href=${`${base}/reassessment`}>
      <span class="lead"><bdi>${card.name ?? 'Not on this phone yet'}</bdi></span>
      <span class=${`under marked ${item.state}`}>${stateWords(item, today)}</span>
      <span class="under">${itemTitle(item)}</span>
      ${other && html`<span class="under">${whoseWords(card)}</span>`}
      ${visit && html`<span class="under">Next visit ${sayDate(visit.date)}, ${sayTime(visit.planned.body.time)}</span>`}
    </a>
    ${place && !other && !visit && html`<a class="button quiet" href=${`${base}/plan-visit`}
      aria-label=${`Put into a round: ${card.name}`}>Put into a round</a>`}`;
}

/** Whose client this is, as far as this phone can know: who signed the last visit. */
function whoseWords({visits}) {
  const last = visits.filter((visit) => visit.finished).at(-1);
  if (!last) return 'Nobody has finished a visit yet';
  return html`Last visit by <bdi>${last.finished.body.signed_by || 'a colleague'}</bdi>, ${sayDate(last.date)}`;
}
