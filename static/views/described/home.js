/** The home: rooms and ways in, what they measure, hazards with what was advised, what is on loan. */
import {data, describedKinds, observations, placeFindings, ramp, seatFinding, unitLabel} from '../../clinical/index.js';
import {sayDate, sayMoment} from '../format.js';
import {GoButton} from '../frame.js';
import {html} from '../html.js';
import {Ended, Line, SectionFrame, itemsOf} from './parts.js';
import {choiceLabel, nameOf, sayLength, sayValue} from './words.js';

/** @param {{client: string, visit?: string}} props */
export function Home({client, visit}) {
  return html`<${SectionFrame} client=${client} visit=${visit} section="home" next=${(found) => visit && html`<${GoButton} path=${`${found.base}/describe/place`}>Add a room or way in<//>`}>
    ${(found) => html`<${Places} found=${found} /><${LowerLeg} found=${found} /><${Hazards} found=${found} /><${Equipment} found=${found} />
      <p class="soft">${data.home.place_words}</p><p class="soft">${data.home.photos}</p>`}<//>`;
}

function Places({found: {entries, base, visit}}) {
  const {open, ended} = itemsOf(entries, 'place');
  return html`<section class="part"><h2>${describedKinds.place.many}</h2>
    ${open.length === 0 && html`<p>None yet. Begin where the client comes in.</p>`}
    <ul class="lines">${open.map((place) => html`<li key=${place.item}>
      <${Line} href=${visit && `${base}/describe/place/${place.item}`} lead=${place.fields.name} side=${choiceLabel('place', 'type', place.fields.type)} under=${[measuresOf(place.fields, entries), place.fields.note]} />
      ${placeFindings(place.fields).map((each) => html`<p key=${each.id} class="question"><span><strong>${each.word}.</strong> ${each.because}</span></p>`)}
      ${place.fields.rise && html`<${Ramp} rise=${place.fields.rise} />`}</li>`)}</ul>
    <${Ended} kind="place" items=${ended} base=${base} visit=${visit} /></section>`;
}

/** "Clear width of the doorway 80 cm · Rails: none" */
function measuresOf(fields, entries) {
  const measured = describedKinds.place.fields.filter((field) => field.for?.includes(fields.type) && (fields[field.id] ?? null) !== null);
  return measured.map((field) => `${field.label}: ${String(sayValue(field, fields[field.id], entries)).toLowerCase()}`).join(' · ');
}

function Ramp({rise}) {
  const found = ramp(rise.value, rise.unit);
  if (!found) return null;
  const say = (value) => `${value} ${unitLabel(found.unit)}`;
  return html`<details><summary>A ramp for ${sayLength(rise)}</summary><dl class="facts">
    <div><dt>Length on the ground at 1 in ${data.home.ramp.run_per_rise}</dt><dd class="number">${say(found.run)}</dd></div>
    <div><dt>Runs, and landings between them</dt><dd class="number">${found.runs}, ${found.landings}</dd></div>
    <div><dt>With a landing of ${say(found.landing)} above, below and between</dt><dd class="number">${say(found.footprint)}</dd></div>
    <div><dt>Along the slope, without landings</dt><dd class="number">${say(found.surface)}</dd></div>
    <div><dt>Clear width</dt><dd class="number">${say(found.width)}</dd></div>
    <div><dt>Handrails</dt><dd>${found.rails ? 'On both sides' : 'Not asked for at this rise'}</dd></div></dl>
    <p class="soft">${data.sources[data.home.ramp.source].title}. Local code decides.</p></details>`;
}

/** Seats against the lower leg: common practice, said so. */
function LowerLeg({found: {entries, base, visit}}) {
  const leg = observations(entries, 'lower_leg').at(-1);
  const seats = itemsOf(entries, 'place').open.filter(({fields}) => fields.seat_height);
  const add = visit && html`<${GoButton} kind="secondary" path=${`${base}/describe/lower_leg`}>Measure the lower leg<//>`;
  return html`<section class="part"><h2>Seat and lower leg</h2>
    ${!leg && html`<p class="soft">With the length of the lower leg, the heights of seats, toilet and bed are held against it.</p>`}
    ${leg && html`<p>${describedKinds.lower_leg.fields[0].label}: <strong class="number">${sayLength(leg.fields.length)}</strong>, ${sayMoment(leg.recorded_at)}</p>
      <ul class="cautions">${seats.map(({item, fields}) => html`<li key=${item}><bdi>${seatFinding(fields.name, fields.seat_height, leg.fields.length).because}</bdi></li>`)}</ul>
      <p class="soft">${data.home.seat.raise_words} This is ${data.sources[data.home.seat.source].status}.</p>`}
    ${add}</section>`;
}

function Hazards({found: {entries, base, visit}}) {
  const {open, ended} = itemsOf(entries, 'hazard');
  return html`<section class="part"><h2>${describedKinds.hazard.many}</h2>
    ${open.length === 0 && html`<p>None recorded. That is not the same as none.</p>`}
    <ul class="lines">${open.map(({item, fields}) => html`<li key=${item}><${Line} href=${visit && `${base}/describe/hazard/${item}`} lead=${fields.name}
      side=${fields.place && nameOf(entries, 'place', fields.place)} under=${[fields.advice && `Advised: ${fields.advice}`, fields.answer && choiceLabel('hazard', 'answer', fields.answer)]} /></li>`)}</ul>
    ${visit && html`<${GoButton} kind="secondary" path=${`${base}/describe/hazard`}>Add a hazard<//>`}
    <${Ended} kind="hazard" items=${ended} base=${base} visit=${visit} /></section>`;
}

function Equipment({found: {entries, base, visit}}) {
  const {open, ended} = itemsOf(entries, 'equipment');
  return html`<section class="part"><h2>${describedKinds.equipment.many}</h2>
    ${open.length === 0 && html`<p>Nothing on loan.</p>`}
    <ul class="lines">${open.map(({item, fields}) => html`<li key=${item}><${Line} href=${visit && `${base}/describe/equipment/${item}`} lead=${fields.name}
      side=${fields.lent_on && `Since ${sayDate(fields.lent_on)}`} under=${[[fields.number && `No. ${fields.number}`, fields.lent_by, fields.check_on && `Check or give back ${sayDate(fields.check_on)}`].filter(Boolean).join(' · '), fields.note]} /></li>`)}</ul>
    ${visit && html`<${GoButton} kind="secondary" path=${`${base}/describe/equipment`}>Add a loan<//>`}
    <${Ended} kind="equipment" items=${ended} base=${base} visit=${visit} /></section>`;
}
