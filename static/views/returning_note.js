/** After the service's record was restored: what colleagues recorded that is on this phone and not on the server. */
import {useStored} from './app_context.js';
import {sayCount} from './format.js';
import {html} from './html.js';
import {OutboxLines} from './outbox_lines.js';

export function ReturningNote() {
  const rows = useStored(({store}) => store.returning(), []);
  if (!rows?.length) return null;
  const aside = rows.filter(({state}) => state === 'aside');
  return html`<section class="part" aria-labelledby="handed-back"><h2 id="handed-back">Lost by the server, kept here</h2>
    ${returningWords(rows).map((words) => html`<p key=${words}>${words}</p>`)}
    ${aside.length > 0 && html`<${OutboxLines} rows=${aside} />`}
  </section>`;
}

/** @param {{state: string}[]} rows @returns {string[]} what there is to say of them */
export function returningWords(rows) {
  const aside = rows.filter(({state}) => state === 'aside').length;
  const words = ['Your service’s record was restored from a backup that does not have everything colleagues had recorded.'];
  if (rows.length > aside) {
    words.push(`${sayCount(rows.length - aside, 'entry', 'entries')} of theirs on this phone `
      + `${rows.length - aside === 1 ? 'goes' : 'go'} back by the next sync. Keep this phone until then.`);
  }
  if (aside) {
    words.push(`${sayCount(aside, 'entry', 'entries')} of theirs ${aside === 1 ? 'was' : 'were'} handed in and `
      + `${aside === 1 ? 'is' : 'are'} kept aside. Tell whoever leads your team, who decides on “What devices handed in for a decision”.`);
  }
  return words;
}
