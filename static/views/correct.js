/** Correcting a reading: a new entry with a reason beside the one before; nothing is overwritten. */
import {useMemo, useState} from 'preact/hooks';
import {measures} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {useDraftText} from './draft_text.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {isNewer, knownEntriesOf} from './kinds.js';
import {Missing} from './missing.js';
import {NotSaved, useSaving} from './saving.js';
import {rawFromBody} from './forms/controller.js';
import {ErrorSummary, useMeasureForm} from './forms/use_measure_form.js';
import {judgeVisit} from './judging.js';
import {whoWords} from './who.js';

/** @param {{client: string, entry: string}} props */
export function Correct({client, entry}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    const original = await store.entry(entry);
    if (!card || !original || !measures[original.kind] || isNewer(original)) return null;
    const {context} = judgeVisit(await knownEntriesOf(store, client), original.visit, settings);
    const held = (await store.outbox()).some((row) => row.id === entry && row.state === 'held');
    return {card, original, context, held};
  }, [client, entry]);
  const back = {path: `/app/client/${client}/entry/${entry}`, name: 'Entry'};
  if (found === undefined) return html`<${Frame} title="Correct" back=${back} />`;
  if (found === null) return html`<${Missing} />`;
  return html`<${CorrectForm} key=${entry} ...${found} back=${back} />`;
}

function CorrectForm({card, original, context, held, back}) {
  const app = useApp();
  const measure = measures[original.kind];
  const initial = useMemo(() => rawFromBody(measure, original.body), [original.id]);
  const form = useMeasureForm({measure, draftKey: `${original.client}/correct:${original.id}`, context, initial});
  const [why, setWhy, forgetWhy] = useDraftText(`${original.client}/why:${original.id}`);
  const {save, problem: unsaved} = useSaving();
  const [problem, setProblem] = useState(null);

  async function correct() {
    if (!held && !why.trim()) {
      setProblem('Say what was wrong, for instance: digits swapped when typing.');
      document.getElementById('reason').focus();
      return;
    }
    setProblem(null);
    const entered = form.submit();
    if (!entered) return;
    const body = original.body.repeats ? {...entered, repeats: original.body.repeats} : entered;
    const saved = await save({kind: original.kind, schema: measure.schema, client: original.client, visit: original.visit, body,
      ...chainLink(original, held, why.trim())}, {withdraws: held ? [original.id] : []});
    if (!saved) return;
    await Promise.all([form.forgetDraft(), forgetWhy()]);
    app.go(held ? '/app/phone' : back.path);
  }
  return html`<${Frame} title="Correct" back=${back} who=${whoWords(card)}
    next=${html`<button type="button" class="primary" disabled=${!form.ready} onClick=${correct}>Save the correction</button>`}>
    <${NotSaved} problem=${unsaved} />
    <${ErrorSummary} form=${form} />
    ${!held && html`<p class="message">What was recorded first stays visible beside the correction.</p>`}
    ${!held && html`<div class="field"><label for="reason">What was wrong?</label>
      <textarea autocomplete="off" id="reason" rows="2" value=${why} onInput=${(event) => setWhy(event.target.value)}
        aria-invalid=${problem ? 'true' : undefined} aria-describedby=${problem ? 'reason-error' : undefined}></textarea>
      ${problem && html`<p class="error" id="reason-error" role="alert">${problem}</p>`}</div>`}
    <div class="paper-form" ref=${form.host} />
  <//>`;
}

/** A correction amends what the server has; one the server never took is replaced, and keeps what it amended. */
function chainLink(original, held, why) {
  if (held) return {amends: original.amends, reason: original.reason};
  return {amends: original.id, reason: why};
}
