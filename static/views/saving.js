/** Saving from a screen: either it is durable, or the screen stays and says what to do. */
import {useState} from 'preact/hooks';
import {useApp} from './app_context.js';
import {html} from './html.js';

/**
 * @returns {{save: (draft: object, options?: object) => Promise<object|null>, problem: string|null}}
 *   `save` answers the entry once it is on disk, or null when it is not and `problem` says why
 */
export function useSaving() {
  const {store} = useApp();
  const [problem, setProblem] = useState(/** @type {string|null} */ (null));
  async function save(draft, options) {
    try {
      const entry = await store.save(draft, options);
      setProblem(null);
      return entry;
    } catch (error) {
      setProblem(error.message);
      return null;
    }
  }
  return {save, problem};
}

/** What stands on the screen while something could not be saved. @param {{problem: string|null}} props */
export function NotSaved({problem}) {
  if (!problem) return null;
  return html`<div class="message attention" role="alert">
    <h2>Not saved yet</h2>
    <p>${problem}</p>
    <p>What you entered stays on this screen. Try again from here.</p>
  </div>`;
}
