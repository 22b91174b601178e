/** The form of a measure in the visit: kept as a draft while it is filled, saved when it holds. */
import {useState} from 'preact/hooks';
import {measures} from '../clinical/index.js';
import {precautionOf} from './precaution_words.js';
import {useApp} from './app_context.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {NotMeasured} from './not_measured.js';
import {NotSaved, useSaving} from './saving.js';
import {Helpers} from './forms/helpers.js';
import {Onward} from './forms/onward.js';
import {ErrorSummary, useMeasureForm} from './forms/use_measure_form.js';

/**
 * @param {object} props
 * @param {object} props.place client, visit, measure, base, back, who, precautions
 * @param {object} props.context what the judgement will know
 * @param {string[]} props.repeats the readings of this kind already there at this visit
 * @param {string} props.draftKey under which what is typed is kept
 * @param {Record<string, string>} props.last by field, what it was the last time, in words
 */
export function MeasureForm({place, context, repeats, draftKey, last}) {
  const {go} = useApp();
  const measure = measures[place.measure];
  const [leaving, setLeaving] = useState(false);
  const form = useMeasureForm({measure, draftKey, context, guided: true});
  const {save, problem} = useSaving();

  async function record(body) {
    const whole = repeats.length > 0 ? {...body, repeats} : body;
    const entry = await save({kind: measure.id, schema: measure.schema, client: place.client, visit: place.visit, body: whole});
    if (!entry) return;
    await form.forgetDraft();
    if (repeats.length > 0) go(`${place.base}/${measure.id}`);
  }
  function submit() {
    const body = form.submit();
    if (body) record(body);
  }
  const keep = html`<button type="button" class="primary" disabled=${!form.ready} onClick=${submit}>Save</button>`;
  const next = form.ready ? html`<${Onward} measure=${measure} control=${form.control.current} save=${keep} />` : keep;
  return html`<${Frame} title=${measure.title} back=${place.back} who=${place.who} next=${leaving ? null : next}>
    <${NotSaved} problem=${problem} />
    ${leaving
    ? html`<${NotMeasured} measure=${measure} onSave=${record} onCancel=${() => setLeaving(false)} />`
    : html`<${ErrorSummary} form=${form} />
      <${Know} measure=${measure} precautions=${place.precautions} />
      ${form.failed && html`<div class="message attention" role="alert"><p>${form.failed}</p></div>`}
      <div class="paper-form" ref=${form.host} />
      <${Helpers} measure=${measure} form=${form} context=${context} last=${last} />
      <button type="button" class="quiet" onClick=${() => setLeaving(true)}>Not measured this time</button>`}
  <//>`;
}

/** The precautions that matter for this measure, before the cuff is on. */
function Know({measure, precautions}) {
  const matter = precautions.filter(({code}) => precautionOf(code).measures?.includes(measure.id));
  if (matter.length === 0) return null;
  return html`<ul class="know">${matter.map(({code, text}) => html`<li key=${code}>
    <strong>${precautionOf(code).label}</strong><span>${precautionOf(code).words}</span>${text && html` <bdi>${text}</bdi>`}</li>`)}</ul>`;
}
