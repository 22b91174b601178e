/** What a visit comes to before it is signed: recorded, left out and why, described, planned. No screen here. */
import {data, describedKinds, measures, reasons, resolveEntries} from '../clinical/index.js';
import {nameOf, sayEnded, sayValue} from './described/words.js';
import {precautionOf} from './precaution_words.js';
import {figureOf, targetLabel, targetRange} from './reading_words.js';

/**
 * @param {object[]} entries all of the client  @param {string} visit
 * @param {import('./visit_steps.js').Part[]} parts of the visit  @param {object} byMeasure judgements by measure
 * @returns {{recorded: {id: string, title: string, figure: string, word: string, level: string}[],
 *   left: {id: string, title: string, why: string}[], described: {title: string, lines: {lead: string, side: string}[]}[]}}
 */
export function visitSummary(entries, visit, parts, byMeasure) {
  const measured = parts.filter(({entry}) => entry && !entry.body.not_measured);
  const left = parts.filter(({entry, counts}) => (entry ? entry.body.not_measured : counts));
  return {
    recorded: measured.map(({id, title, entry}) => ({id, title, figure: figureOf(id, entry.body, byMeasure[id]?.judgement.facts),
      word: byMeasure[id]?.word ?? '', level: byMeasure[id]?.level ?? 'unknown'})),
    left: left.map(({id, title, entry}) => ({id, title, why: entry ? whyWords(entry.body.not_measured) : 'No reason given'})),
    described: data.described.sections.map((section) => ({title: section.title, lines: linesOf(entries, visit, section.id)})).filter(({lines}) => lines.length > 0),
  };
}

function whyWords({reason, note}) {
  return [reasons[reason]?.label ?? reason, note].filter(Boolean).join(': ');
}

function linesOf(entries, visit, section) {
  const chains = resolveEntries(entries);
  const ours = chains.filter(({entry, voided}) => !voided && entry.visit === visit && describedKinds[entry.kind]?.section === section);
  const said = ours.map(({entry}) => describedLine(entry, entries));
  return section === 'plan' ? [...said, ...standingLines(chains, visit)] : said;
}

/** "Socks" and "Difficulty: mild", or "Rail" and "Returned, Tue 3 Mar". */
function describedLine({kind, body}, entries) {
  const about = describedKinds[kind];
  const says = about.fields.find(({id}) => id === about.says);
  if (about.shape === 'observation') {
    const value = body.fields[says.id];
    return {lead: body.about ? nameOf(entries, about.about, body.about) : about.title, side: value === undefined ? '' : told(about, sayValue(says, value, entries))};
  }
  const name = body.set[says.id] ?? (body.item ? nameOf(entries, kind, body.item) : null);
  return {lead: name && says.type !== 'day' ? name : about.title, side: changeWords(kind, about, body, says, entries)};
}

const told = (about, value) => (about.told ? about.told.replace('{value}', String(value).toLowerCase()) : String(value));

function changeWords(kind, about, {item, set, seen}, says, entries) {
  if (set.ended) return sayEnded(kind, set.ended);
  if (about.shape === 'single' && set[says.id]) return String(sayValue(says, set[says.id], entries));
  return item || Object.keys(seen).length > 0 ? `${about.title}, changed` : `${about.title}, new`;
}

function standingLines(chains, visit) {
  return chains.filter(({entry}) => entry.kind === 'precaution' || entry.kind === 'target').flatMap(({entry, voided}) => {
    const {kind, body} = entry;
    const lead = kind === 'precaution' ? precautionOf(body.code).label : `${targetLabel(body)}, ${targetRange(body)}`;
    if (voided) return voided.visit === visit ? [{lead, side: `Taken back: ${voided.reason}`}] : [];
    if (body.ended) return entry.visit === visit ? [{lead, side: `Ended: ${body.ended.why}`}] : [];
    return entry.visit === visit ? [{lead, side: entry.amends ? `Changed: ${entry.reason}` : 'Set'}] : [];
  });
}
