/** Entries that another phone of the same person gave numbers to and never sent: a loss must not be silent. */
import {useState} from 'preact/hooks';
import {useApp, useStored} from './app_context.js';
import {sayCount, sayMoment} from './format.js';
import {html} from './html.js';

const SEEN = 'lacking_seen';

/** @param {{always?: boolean}} props always: also what the person has seen already */
export function LackingNote({always = false}) {
  const {store} = useApp();
  const devices = useStored(async () => {
    const [session, seen] = await Promise.all([store.meta('session'), store.meta(SEEN)]);
    return lackingElsewhere(session, store.device, always ? null : seen);
  }, [always]);
  const [dismissed, setDismissed] = useState(false);
  if (dismissed || !devices?.length) return null;
  const see = async () => {
    const {lacking} = await store.meta('session');
    setDismissed(true);
    await store.setMeta(SEEN, Object.fromEntries(lacking.map(({device, entries}) => [device, entries])));
  };
  return html`<section class="message attention"><h2>Not everything has arrived</h2>
    ${devices.map((each) => html`<p key=${each.device}>${lackingWords(each)}</p>`)}
    <p>If that phone still works, open Lintel on it and sync. If its storage was cleared, what it had not sent is gone: record again what you can. What it recorded after it was last heard of is not counted.</p>
    ${!always && html`<button type="button" class="quiet" onClick=${see}>I have seen to it</button>`}
  </section>`;
}

/** @returns {object[]} what other devices lack, without what was seen before with the same number of entries */
export function lackingElsewhere(session, device, seen) {
  return (session?.lacking ?? []).filter((each) => each.device !== device && seen?.[each.device] !== each.entries);
}

/** @param {{name: string, last_sync_at: string, entries: number}} device */
export function lackingWords({name, last_sync_at: at, entries}) {
  return `${sayCount(entries, 'entry', 'entries')} recorded on another phone of yours (${name}, last heard of ${sayMoment(at)}), `
    + `or on this one before it was cleared, ${entries === 1 ? 'is' : 'are'} not on the server.`;
}
