// Views computed from one client's entries: the card, and the context a judgement needs.
import { data, own } from './data.js';
import { deriveFacts } from './facts.js';
import { measuredAt, measuredOn, resolveDetails, resolveEntries, standing } from './record.js';

/**
 * What the client's page shows, from the entries of one client; `today` is an ISO date.
 * @param {object[]} entries
 * @param {string} today
 * @returns {object}
 */
export function clientCard(entries, today) {
  const chains = resolveEntries(entries);
  const { details, disagreements, seen } = resolveDetails(chains);
  const visits = visitsOf(chains);
  return {
    client: entries[0]?.client ?? null,
    name: details.name ?? null,
    preferred_name: details.preferred_name ?? null,
    age: ageOn(details.birth_date, today),
    details,
    seen,
    precautions: holding(chains, 'precaution', today),
    contacts: bodies(chains, 'contact'),
    targets: holding(chains, 'target', today),
    ended: { precaution: ended(chains, 'precaution', today), target: ended(chains, 'target', today) },
    disagreements: [...disagreements, ...targetDisagreements(chains, today)],
    last: latest(readings(standing(chains))),
    next_planned: nextPlanned(visits, today),
    visits,
  };
}

/**
 * The context to judge the readings of a visit by; earlier readings are those recorded before it began.
 * @param {object[]} entries
 * @param {string|null} visitId
 * @param {string} today
 * @param {object} [settings]
 * @returns {object}
 */
export function contextFor(entries, visitId, today, settings) {
  const chains = resolveEntries(entries);
  const { details } = resolveDetails(chains);
  const ours = standing(chains).filter((chain) => visitId && chain.entry.visit === visitId);
  const context = {
    age: ageOn(details.birth_date, today),
    sex: details.sex ?? null,
    precautions: holding(chains, 'precaution', today).map((body) => body.code),
    targets: holding(chains, 'target', today),
    first_visit: isFirstVisit(chains, ours, visitId),
    settings: settings ?? {},
  };
  const latestFacts = Object.entries(latest(readings(ours))).map(([name, chain]) => [name, factsOf(chain, context)]);
  return { ...context, history: historyOf(chains, ours, visitId, context), reading_facts: Object.fromEntries(latestFacts) };
}

/**
 * Whole years; a birthday counts from its day on (29 February: from 1 March in other years).
 * @param {unknown} birthDate
 * @param {string} today
 * @returns {number|null}
 */
export function ageOn(birthDate, today) {
  const [born, now] = [dateOf(birthDate), dateOf(today)];
  if (!born || !now || birthDate > today) return null;
  return now[0] - born[0] - (today.slice(5) < birthDate.slice(5) ? 1 : 0);
}

// In order of their date, planned or first recorded.
function visitsOf(chains) {
  const visits = new Map();
  for (const chain of standing(chains)) {
    const { visit } = chain.entry;
    if (visit === null || visit === undefined) continue;
    const blank = { visit, planned: null, started: null, conclusion: null, finished: null };
    if (!visits.has(visit)) visits.set(visit, { ...blank, date: measuredOn(chain), measures: [] });
    note(visits.get(visit), chain);
  }
  return [...visits.values()].sort((one, other) => compare(visitKey(one), visitKey(other)));
}

function note(visit, { entry }) {
  const kind = entry.kind.replace(/^visit_/, '');
  if (entry.kind.startsWith('visit_') && Object.hasOwn(visit, kind)) {
    visit[kind] = entry;
    if (kind === 'planned') visit.date = entry.body.date || visit.date;
  } else if (own(data.measures, entry.kind) && !visit.measures.includes(entry.kind)) {
    visit.measures.push(entry.kind);
  }
}

const visitKey = (visit) => [visit.date, String(visit.planned?.body.time || ''), visit.visit];

function compare(one, other) {
  const at = one.findIndex((part, index) => part !== other[index]);
  return at < 0 ? 0 : one[at] < other[at] ? -1 : 1;
}

// Planned for today or later, and not begun.
function nextPlanned(visits, today) {
  const waiting = visits.filter((visit) => visit.planned && !visit.started && !visit.finished);
  return waiting.find((visit) => visit.date >= today)?.planned ?? null;
}

// Targets of the same field that differ and all still stand: shown until someone voids one.
function targetDisagreements(chains, today) {
  const found = new Map();
  for (const chain of standing(chains, 'target').filter(({ entry }) => !isOver(entry.body, today))) {
    const name = `target.${chain.entry.body.measure}.${chain.entry.body.field}`;
    found.set(name, [...(found.get(name) ?? []), chain]);
  }
  const differ = ([, rivals]) => new Set(rivals.map(({ entry: { body } }) => JSON.stringify([body.low ?? null, body.high ?? null]))).size > 1;
  return [...found].filter(differ).map(([field, rivals]) => ({ field, options: rivals.toReversed().map(targetOption) }));
}

function targetOption({ entry }) {
  const { low = null, high = null, set_by = null } = entry.body;
  const { author = null, recorded_at = null } = entry;
  return { value: { low, high, set_by }, entry: entry.id, author, recorded_at };
}

const bodies = (chains, kind) =>
  standing(chains, kind).map((chain) => ({ ...chain.entry.body, entry: chain.entry.id }));

// The precautions or targets that hold on a day; one ended on that day no longer does.
const holding = (chains, kind, today) => bodies(chains, kind).filter((body) => !isOver(body, today));

// Those that have ended, the last to end first: they stay in the record with their day and reason.
const ended = (chains, kind, today) => bodies(chains, kind).filter((body) => isOver(body, today))
  .sort((one, other) => (one.ended.day < other.ended.day ? 1 : one.ended.day > other.ended.day ? -1 : 0));

function isOver(body, today) {
  const day = body.ended?.day ?? null;
  return day !== null && day <= today;
}

// Those that gave a value.
const readings = (chains) =>
  chains.filter(({ entry }) => own(data.measures, entry.kind) && !Object.hasOwn(entry.body, 'not_measured'));

const latest = (chains) => Object.fromEntries(chains.map((chain) => [chain.entry.kind, chain]));

const factsOf = ({ entry }, context) => deriveFacts(entry.kind, entry.body, context);

function historyOf(chains, ours, visitId, context) {
  const times = ours.filter((chain) => chain.entry.kind !== 'visit_planned').map(measuredAt).sort();
  const history = {};
  for (const chain of readings(standing(chains))) {
    const { kind, visit } = chain.entry;
    const earlier = times.length === 0 || measuredAt(chain) < times[0];
    if (earlier && (visitId === null || visitId === undefined || visit !== visitId)) {
      (history[kind] ??= []).push(factsOf(chain, context));
    }
  }
  return history;
}

function isFirstVisit(chains, ours, visitId) {
  const started = ours.find((chain) => chain.entry.kind === 'visit_started')?.entry;
  if (typeof started?.body.first === 'boolean') return started.body.first;
  return !standing(chains, 'visit_started').some((chain) => chain.entry.visit !== (visitId ?? null));
}

function dateOf(text) {
  const match = typeof text === 'string' && /^([0-9]{4})-([0-9]{2})-([0-9]{2})$/.exec(text);
  return match ? match.slice(1).map(Number) : null;
}
