/** Entries that stand between this phone and the server, a line each: what, of whom, when, and what was said of it. */
import {useStored} from './app_context.js';
import {sayMoment} from './format.js';
import {html} from './html.js';
import {entryTitle} from './reading_words.js';

/** @param {{rows: object[]}} props of the store's outbox, or of what is handed back */
export function OutboxLines({rows}) {
  const names = useStored(async ({store}) => new Map((await store.cards()).map((card) => [card.client, card.preferred_name || card.name])), []);
  return html`<ul class="lines">${rows.map((row) => html`<li key=${row.id}><${Line} row=${row} name=${names?.get(row.client)} /></li>`)}</ul>`;
}

function Line({row, name}) {
  return html`<a class="line" href=${row.client ? `/app/client/${row.client}/entry/${row.id}` : '/app/phone'}>
    <span class="lead">${row.entry ? entryTitle(row.entry) : 'An entry that this phone can no longer read'}</span>
    ${row.entry && html`<span class="side soft">${sayMoment(row.entry.recorded_at, row.entry.utc_offset)}</span>`}
    ${name && html`<span class="under"><bdi>${name}</bdi></span>`}
    ${row.state !== 'aside' && row.message && html`<span class="under"><strong>${row.message}</strong></span>`}
  </a>`;
}
