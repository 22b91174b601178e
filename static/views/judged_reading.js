/** A recorded reading: the figure, where it lies, and the three judgements with their reasons. */
import {measures, reasons} from '../clinical/index.js';
import {sayMoment} from './format.js';
import {Finding} from './finding.js';
import {Frame, GoButton} from './frame.js';
import {html} from './html.js';
import {gravestFirst} from './judging.js';
import {figureOf, scaleOf} from './reading_words.js';
import {Scale} from './scale_view.js';
import {Verdict} from './conclusion.js';

const HALTS = new Set(['stop_and_seek_advice', 'urgent_help']);

/** @param {{place: object, entry: object, found: object}} props */
export function JudgedReading({place, entry, found}) {
  const {measure, base} = place;
  const judged = found.judged.byMeasure[measure];
  const {conclusion} = found.judged.conclusion;
  const open = found.parts.find((part) => !part.entry);
  const halted = HALTS.has(judged?.level);
  return html`<${Frame} title=${measures[measure].title} back=${place.back} who=${place.who}
    next=${html`<${NextStep} base=${base} open=${open} halted=${halted} />`}>
    ${halted && html`<${Verdict} level=${conclusion} />`}
    <${ReadingBlock} measure=${measure} entry=${entry} judged=${judged} context=${found.judged.context} />
    <p class="soft saved" role="status">Saved on this phone, ${sayMoment(entry.recorded_at, entry.utc_offset)}.
      ${' '}<a href=${`/app/client/${place.client}/entry/${entry.id}`}>Look or correct</a></p>
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

function LeftOut({measure, entry}) {
  const {reason, note} = entry.body.not_measured;
  return html`<section class="part"><h1>${measures[measure].title}</h1>
    <p>Not measured: ${reasons[reason].label.toLowerCase()}.</p>${note && html`<p><bdi>${note}</bdi></p>`}</section>`;
}

function NextStep({base, open, halted}) {
  if (halted || !open) return html`<${GoButton} path=${`${base}/conclusion`}>Read the conclusion<//>`;
  return html`<${GoButton} path=${`${base}/${open.id}`}>Next: ${open.title.toLowerCase()}<//>`;
}
