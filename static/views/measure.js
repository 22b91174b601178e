/** One measure of a visit: its form while it is open, its judgement once it is recorded. */
import {measures} from '../clinical/index.js';
import {useStored} from './app_context.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {judgeVisit} from './judging.js';
import {JudgedReading} from './judged_reading.js';
import {knownEntriesOf} from './kinds.js';
import {lastReading, lastWords} from './last_time.js';
import {MeasureForm} from './measure_form.js';
import {Missing} from './missing.js';
import {draftKeyOf, repeatsOf, visitEntry, visitParts} from './visit_steps.js';
import {whoWords} from './who.js';

/** @param {{client: string, visit: string, measure: string}} props */
export function Measure(props) {
  return html`<${MeasureScreen} ...${props} again=${false} />`;
}

/** The same measure once more at the same visit: a reading of its own that names the ones before. */
export function MeasureAgain(props) {
  return html`<${MeasureScreen} ...${props} again=${true} />`;
}

function MeasureScreen({client, visit, measure, again}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    if (!card || !measures[measure]) return null;
    const entries = await knownEntriesOf(store, client);
    const judged = judgeVisit(entries, visit, settings);
    return {card, parts: visitParts(entries, visit), judged, last: lastWords(lastReading(entries, measure, visit), judged.context),
      recorded: visitEntry(entries, visit, 'visit_conclusion')};
  }, [client, visit, measure]);
  const title = measures[measure]?.title ?? 'Measure';
  const base = `/app/client/${client}/visit/${visit}`;
  const back = {path: base, name: 'Visit'};
  if (found === undefined) return html`<${Frame} title=${title} back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  const part = found.parts.find((each) => each.id === measure);
  const place = {client, visit, measure, base, back, who: whoWords(found.card), precautions: found.card.precautions};
  if (part.entry && !again) return html`<${JudgedReading} place=${place} entry=${part.entry} found=${found} />`;
  return html`<${MeasureForm} key=${measure} place=${place} context=${found.judged.context} repeats=${repeatsOf(part)} draftKey=${draftKeyOf({client, visit}, part)} last=${found.last} />`;
}
