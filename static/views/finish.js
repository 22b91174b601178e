/** Finishing a visit: a last word if one is needed, then it is done. */
import {conclusions} from '../clinical/index.js';
import {useApp, useStored} from './app_context.js';
import {useDraftText} from './draft_text.js';
import {sayCount} from './format.js';
import {Frame} from './frame.js';
import {html} from './html.js';
import {knownEntriesOf} from './kinds.js';
import {Missing} from './missing.js';
import {NotSaved, useSaving} from './saving.js';
import {visitEntry, visitParts} from './visit_steps.js';
import {whoWords} from './who.js';

/** @param {{client: string, visit: string}} props */
export function Finish({client, visit}) {
  const app = useApp();
  const {save, problem} = useSaving();
  const [note, setNote, forgetNote] = useDraftText(`finish:${visit}`);
  const found = useStored(async ({store}) => {
    const card = await store.card(client);
    const entries = await knownEntriesOf(store, client);
    return card && {card, parts: visitParts(entries, visit), conclusion: visitEntry(entries, visit, 'visit_conclusion')};
  }, [client, visit]);
  const back = {path: `/app/client/${client}/visit/${visit}`, name: 'Visit'};
  if (found === undefined) return html`<${Frame} title="Finish" back=${back} />`;
  if (!found) return html`<${Missing} />`;
  async function finish() {
    if (!await save({kind: 'visit_finished', schema: 1, client, visit, body: {note: note.trim()}})) return;
    await forgetNote();
    app.go('/app/');
  }
  return html`<${Frame} title="Finish" back=${back} who=${whoWords(found.card)}
    next=${html`<button type="button" class="primary" onClick=${finish}>Finish the visit</button>`}>
    <${NotSaved} problem=${problem} />
    <div class="hero"><h1>Finish the visit</h1>
      <p class="soft">${recordedWords(found.parts)}${found.conclusion && ` Conclusion: ${conclusions[found.conclusion.body.chosen].label.toLowerCase()}.`}</p></div>
    <div class="field">
      <label for="note">Anything to add <span class="optional">if it helps</span></label>
      <p class="hint" id="note-hint">What you told the client, whom you informed, what to look at next time.</p>
      <textarea autocomplete="off" id="note" rows="5" aria-describedby="note-hint" value=${note} onInput=${(event) => setNote(event.target.value)}></textarea>
    </div>
  <//>`;
}

function recordedWords(parts) {
  const needed = parts.filter((part) => part.counts);
  const more = parts.filter((part) => !part.counts && part.entry).length;
  const done = `${needed.filter((part) => part.entry).length} of ${needed.length} vital signs recorded`;
  return more > 0 ? `${done}, and ${sayCount(more, 'further measure')}.` : `${done}.`;
}
