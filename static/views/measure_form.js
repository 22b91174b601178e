/** The form of a measure in the visit: kept as a draft while it is filled, saved when it holds. */
import {useState} from 'preact/hooks';
import {measures} from '../clinical/index.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {NotMeasured} from './not_measured.js';
import {NotSaved, useSaving} from './saving.js';
import {Helpers} from './forms/helpers.js';
import {ErrorSummary, useMeasureForm} from './forms/use_measure_form.js';

/**
 * @param {object} props
 * @param {object} props.place client, visit, measure, back, who
 * @param {object} props.context what the judgement will know
 */
export function MeasureForm({place, context}) {
  const measure = measures[place.measure];
  const [leaving, setLeaving] = useState(false);
  const form = useMeasureForm({measure, draftKey: `${place.visit}:${place.measure}`, context});
  const {save, problem} = useSaving();

  async function record(body) {
    const entry = await save({kind: measure.id, schema: measure.version, client: place.client, visit: place.visit, body});
    if (entry) await form.forgetDraft();
  }
  function submit() {
    const body = form.submit();
    if (body) record(body);
  }
  const next = html`<button type="button" class="primary" disabled=${!form.ready} onClick=${submit}>Save</button>`;
  return html`<${Frame} title=${measure.title} back=${place.back} who=${place.who} next=${leaving ? null : next}>
    <${NotSaved} problem=${problem} />
    ${leaving
    ? html`<${NotMeasured} measure=${measure} onSave=${record} onCancel=${() => setLeaving(false)} />`
    : html`<${ErrorSummary} form=${form} />
      ${form.failed && html`<div class="message attention" role="alert"><p>${form.failed}</p></div>`}
      <div class="paper-form" ref=${form.host} />
      <${Helpers} measure=${measure} form=${form} context=${context} />
      <button type="button" class="quiet" onClick=${() => setLeaving(true)}>Not measured this time</button>`}
  <//>`;
}
