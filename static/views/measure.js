/** One measure of a visit: its form while it is open, its judgement once it is recorded. */
import {measures} from '../clinical/index.js';
import {useStored} from './app_context.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {judgeVisit} from './judging.js';
import {JudgedReading} from './judged_reading.js';
import {MeasureForm} from './measure_form.js';
import {Missing} from './missing.js';
import {visitParts} from './visit_steps.js';
import {whoWords} from './visit.js';

/** @param {{client: string, visit: string, measure: string}} props */
export function Measure({client, visit, measure}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    if (!card || !measures[measure]) return null;
    const entries = await store.entriesOf(client);
    return {card, parts: visitParts(entries, visit), judged: judgeVisit(entries, visit, settings)};
  }, [client, visit, measure]);
  const title = measures[measure]?.title ?? 'Measure';
  const base = `/app/client/${client}/visit/${visit}`;
  const back = {path: base, name: 'Visit'};
  if (found === undefined) return html`<${Frame} title=${title} back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  const entry = found.parts.find((part) => part.id === measure).entry;
  const place = {client, visit, measure, base, back, who: whoWords(found.card)};
  return entry
    ? html`<${JudgedReading} place=${place} entry=${entry} found=${found} />`
    : html`<${MeasureForm} key=${measure} place=${place} context=${found.judged.context} />`;
}
