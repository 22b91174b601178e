/** A recorded reading: the figure, where it lies, and the three judgements with their reasons. */
import {judgeReading, measures, reasons} from '../clinical/index.js';
import {sayMoment} from './format.js';
import {Finding} from './finding.js';
import {Frame, GoButton} from './frame.js';
import {html} from './html.js';
import {gravestFirst, stillHolds, withGravest} from './judging.js';
import {figureOf, scaleOf} from './reading_words.js';
import {Scale} from './scale_view.js';
import {Verdict} from './verdict.js';
import {openPart} from './visit_steps.js';

const HALTS = new Set(['stop_and_seek_advice', 'urgent_help']);

/** @param {{place: object, entry: object, found: object}} props */
export function JudgedReading({place, entry, found}) {
  const {measure, base} = place;
  const judged = found.judged.byMeasure[measure];
  const {conclusion} = found.judged.conclusion;
  const open = openPart(found.parts);
  const part = found.parts.find((each) => each.id === measure);
  const halted = HALTS.has(judged?.level);
  return html`<${Frame} title=${measures[measure].title} back=${place.back} who=${place.who}
    next=${html`<${NextStep} base=${base} open=${open} halted=${halted} concluded=${isConcluded(found)} />`}>
    ${halted && html`<${Verdict} level=${conclusion} />`}
    <${ReadingBlock} measure=${measure} entry=${entry} judged=${judged} context=${found.judged.context} />
    <p class="soft saved" role="status">Saved on this phone, ${sayMoment(entry.recorded_at, entry.utc_offset)}.
      ${' '}<a href=${`/app/client/${place.client}/entry/${entry.id}`}>Look or correct</a></p>
    <${OtherReadings} part=${part} client=${place.client} context=${found.judged.context} />
    <${GoButton} kind="secondary" path=${`${base}/${measure}/again`}>${entry.body.not_measured ? 'Measure it now' : 'Measure again'}<//>
    ${halted && open && html`<${GoButton} kind="quiet" path=${`${base}/${open.id}`}>${open.title} next<//>`}
  <//>`;
}

/** The figure with its scale and findings. @param {object} props */
export function ReadingBlock({measure, entry, judged, context}) {
  if (entry.body.not_measured) return html`<${LeftOut} measure=${measure} entry=${entry} />`;
  const scale = scaleOf(measure, judged.judgement, context);
  return html`<section class="reading">
    <h1 class="visually-hidden">${measures[measure].title}</h1>
    <p class="figure">${figureOf(measure, entry.body, judged.judgement.facts)}</p>
    ${scale && html`<${Scale} ...${scale} level=${judged.level} />`}
    <ul>${gravestFirst(judged.judgement.findings).map((finding) => html`<${Finding} key=${finding.rule} finding=${finding} />`)}</ul>
  </section>`;
}

/** The part's other readings at this visit: one measured again is kept and told. */
function OtherReadings({part, client, context}) {
  if (part.others.length === 0) return null;
  return html`<section class="part"><h2>Also at this visit</h2>
    <ul class="lines">${part.others.map(({entry, repeated}) => html`<li key=${entry.id}>
      <${OtherReading} entry=${entry} repeated=${repeated} client=${client} context=${context} /></li>`)}</ul></section>`;
}

function OtherReading({entry, repeated, client, context}) {
  const judged = entry.body.not_measured ? null : withGravest(judgeReading(entry.kind, entry.body, context));
  return html`<a class=${`line level-${judged?.level ?? 'unknown'}`} href=${`/app/client/${client}/entry/${entry.id}`}>
    <span class="lead number">${figureOf(entry.kind, entry.body)}</span>
    <span class="side soft">${sayMoment(entry.recorded_at, entry.utc_offset)}</span>
    <span class="under">${[judged?.word, repeated ? 'measured again since' : 'counts as well'].filter(Boolean).join(' · ')}</span>
  </a>`;
}

function LeftOut({measure, entry}) {
  const {reason, note} = entry.body.not_measured;
  return html`<section class="part"><h1>${measures[measure].title}</h1>
    <p>Not measured: ${reasons[reason].label.toLowerCase()}.</p>${note && html`<p><bdi>${note}</bdi></p>`}</section>`;
}

/** Whether the conclusion was read with all that is recorded now. */
function isConcluded({recorded, judged}) {
  return Boolean(recorded) && stillHolds(recorded, judged.conclusion);
}

function NextStep({base, open, halted, concluded}) {
  if (concluded) return html`<${GoButton} path=${base}>Back to the visit<//>`;
  if (halted || !open) return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion<//>`;
  return html`<${GoButton} path=${`${base}/${open.id}`}>Next: ${open.title.toLowerCase()}<//>`;
}
