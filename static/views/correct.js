/** Correcting a reading: a new entry with a reason beside the one before; nothing is overwritten. */
import {useMemo, useState} from 'preact/hooks';
import {measures} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {Missing} from './missing.js';
import {rawFromBody} from './forms/controller.js';
import {ErrorSummary, useMeasureForm} from './forms/use_measure_form.js';
import {whoWords} from './visit.js';

/** @param {{client: string, entry: string}} props */
export function Correct({client, entry}) {
  const found = useStored(async ({store}) => {
    const card = await store.card(client);
    const original = await store.entry(entry);
    return card && original && measures[original.kind] ? {card, original} : null;
  }, [client, entry]);
  const back = {path: `/app/client/${client}/entry/${entry}`, name: 'Entry'};
  if (found === undefined) return html`<${Frame} title="Correct" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  return html`<${CorrectForm} key=${entry} ...${found} back=${back} />`;
}

function CorrectForm({card, original, back}) {
  const app = useApp();
  const measure = measures[original.kind];
  const initial = useMemo(() => rawFromBody(measure, original.body), [original.id]);
  const form = useMeasureForm({measure, draftKey: `correct:${original.id}`, initial});
  const [why, setWhy] = useState('');
  const [problem, setProblem] = useState(null);

  async function save() {
    if (!why.trim()) {
      setProblem('Say what was wrong, for instance: digits swapped when typing.');
      document.getElementById('reason').focus();
      return;
    }
    setProblem(null);
    const body = form.submit();
    if (!body) return;
    await app.store.save({kind: original.kind, schema: measure.version, client: original.client, visit: original.visit,
      amends: original.id, reason: why.trim(), body});
    await form.forgetDraft();
    app.engine.syncNow();
    app.go(back.path);
  }
  return html`<${Frame} title="Correct" back=${back} who=${whoWords(card)}
    next=${html`<button type="button" class="primary" disabled=${!form.ready} onClick=${save}>Save the correction</button>`}>
    <${ErrorSummary} form=${form} />
    <p class="message">What was recorded first stays visible beside the correction.</p>
    <div class="field"><label for="reason">What was wrong?</label>
      <textarea id="reason" rows="2" value=${why} onInput=${(event) => setWhy(event.target.value)}
        aria-invalid=${problem ? 'true' : undefined} aria-describedby="reason-error"></textarea>
      ${problem && html`<p class="error" id="reason-error" role="alert">${problem}</p>`}</div>
    <div class="paper-form" ref=${form.host} />
  <//>`;
}
