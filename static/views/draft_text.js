/** A text that outlives a reload or a locked phone before it is saved. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {useApp} from './app_context.js';

/**
 * Like a text state, kept on this phone under a key until `forget`.
 * @param {string} key made of opaque ids only, the client's in front: `<client>/...`, so that it goes with the client
 * @param {string} [begin] what stands there when nothing was kept
 * @returns {[string, (text: string) => void, () => Promise<void>]}
 */
export function useDraftText(key, begin = '') {
  const {store} = useApp();
  const [text, setText] = useState(begin);
  const touched = useRef(false);
  useEffect(() => {
    let current = true;
    store.draft(key).then((kept) => current && !touched.current && kept !== null && setText(kept));
    return () => { current = false; };
  }, [key]);
  function change(next) {
    touched.current = true;
    setText(next);
    store.saveDraft(key, next).catch(() => {});  // a full phone is told of when the text is saved for good
  }
  return [text, change, () => store.dropDraft(key)];
}
