/** How safe and how full the phone's storage is, in words. */
import {useEffect, useState} from 'preact/hooks';
import {requestPersistence, storageEstimate, unsentOfOthers} from '../store/index.js';
import {useApp} from './app_context.js';
import {sayCount} from './format.js';
import {html} from './html.js';

const KEPT = {
  granted: 'The browser has promised to keep what is stored here.',
  refused: 'The browser may clear what is stored here when the phone runs full. Installing the app makes that less likely. Sync often.',
  asked: 'The browser asks you whether Lintel may keep what is stored here. Allow it: otherwise it may be cleared when the phone runs full.',
  unavailable: 'This browser cannot promise to keep what is stored here. Sync often.',
};

export function StorageNote() {
  const {me} = useApp();
  const [known, setKnown] = useState(null);
  useEffect(() => {
    Promise.all([requestPersistence(), storageEstimate(), unsentOfOthers(me.id)])
      .then(([kept, room, others]) => setKnown({kept, room, others}));
  }, [me.id]);
  if (!known) return null;
  return html`<section class="part"><h2>Storage</h2>
    <p>${KEPT[known.kept]}</p>
    ${known.room?.nearlyFull && html`<p class="message attention">The storage is nearly full. Free some room on the phone before the next visits.</p>`}
    ${known.others > 0 && html`<p class="message attention">${sayCount(known.others, 'entry', 'entries')} of another person who used this phone still wait here. They are sent when that person signs in.</p>`}
  </section>`;
}
