/** Saving from a screen: either it is durable, or the screen stays and says what to do. */
import {useRef, useState} from 'preact/hooks';
import {useApp} from './app_context.js';
import {html} from './html.js';

// A thumb that shakes taps twice: what comes this soon after a save is the same tap, and one entry is enough.
const SAME_TAP_MS = 1000;

/**
 * @returns {{save: (draft: object, options?: object) => Promise<object|null>,
 *   saveAll: (drafts: object[]) => Promise<object[]|null>, problem: string|null}}
 *   `save` answers the entry once it is on disk, or null when it is not and `problem` says why,
 *   or when the same tap is being saved already; `saveAll` saves all or none
 */
export function useSaving() {
  const {store} = useApp();
  const [problem, setProblem] = useState(/** @type {string|null} */ (null));
  const busy = useRef(false);
  async function once(write) {
    if (busy.current) return null;
    busy.current = true;
    try {
      const saved = await write();
      setProblem(null);
      setTimeout(() => { busy.current = false; }, SAME_TAP_MS);
      return saved;
    } catch (error) {
      busy.current = false;
      setProblem(error.message);
      return null;
    }
  }
  return {save: (draft, options) => once(() => store.save(draft, options)), saveAll: (drafts) => once(() => store.saveMany(drafts)), problem};
}

/** What stands on the screen while something could not be saved. @param {{problem: string|null}} props */
export function NotSaved({problem}) {
  if (!problem) return null;
  return html`<div class="message attention" role="alert">
    <h2>Not saved yet</h2>
    <p>${problem}</p>
    <p>What you entered stays on this screen.</p>
  </div>`;
}
