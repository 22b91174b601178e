/** What was done about reassessment, the newest first: done, put off, paused, discharged, rules of one's own. */
import {describedKinds, resolveEntries} from '../../clinical/index.js';
import {useApp} from '../app_context.js';
import {entryFacts} from '../described/words.js';
import {sayDay} from '../format.js';
import {html} from '../html.js';

const SECTION = 'reassessment';
const AT_ONCE = 6;

/**
 * @param {object[]} entries of one client
 * @returns {{entry: object, takenBack: boolean}[]} the newest first
 */
export function historyOf(entries) {
  return resolveEntries(entries).filter(({entry}) => describedKinds[entry.kind]?.section === SECTION)
    .map(({entry, original, voided}) => ({entry, at: original ?? entry, takenBack: Boolean(voided)})).reverse();
}

/** @param {{entries: object[], client: string}} props */
export function History({entries, client}) {
  const {settings} = useApp();
  const found = historyOf(entries);
  if (found.length === 0) return null;
  const older = found.slice(AT_ONCE);
  const list = (some) => html`<ol class="lines">${some.map(({entry, at, takenBack}) => html`<li key=${entry.id}>
    <a class="line" href=${`/app/client/${client}/entry/${entry.id}`}>
      <span class="lead">${describedKinds[entry.kind].title}</span><span class="side soft">${sayDay(at.recorded_at, at.utc_offset)}</span>
      ${takenBack ? html`<span class="under">Taken back</span>` : html`<span class="under"><bdi>${factsInShort(entry, entries, settings)}</bdi></span>`}
    </a></li>`)}</ol>`;
  return html`<section class="part"><h2>What was done before</h2>${list(found.slice(0, AT_ONCE))}
    ${older.length > 0 && html`<details><summary>Earlier (${older.length})</summary>${list(older)}</details>`}</section>`;
}

const factsInShort = (entry, entries, {reassessment}) =>
  entryFacts(entry, entries, reassessment).map(({label, words}) => `${label.replace(/[?.]$/, '')}: ${words}`).join(' · ');
