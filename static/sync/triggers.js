// What makes the engine try: the network returning, the app coming into view, a save.

const AFTER_SAVE = 1500;  // our choice: a form's few entries travel together

/**
 * @param {object} parts
 * @param {(cause: 'online'|'visible'|'save') => void} parts.wake
 * @param {() => void} parts.onHidden the app went out of view
 * @param {() => void} parts.onCounts the numbers on the screen may have changed
 */
export function createTriggers({store, page, timers, wake, onHidden, onCounts}) {
  let afterSave = null;
  let unsubscribe = null;

  const online = () => wake('online');
  const shown = () => {
    if (page.document.visibilityState === 'visible') wake('visible');
    else onHidden();
  };

  function changed(change) {
    if (change.type !== 'saved' && change.type !== 'synced') return;
    onCounts();
    if (change.type !== 'saved' || change.elsewhere) return;
    timers.clearTimeout(afterSave);
    afterSave = timers.setTimeout(() => wake('save'), AFTER_SAVE);
  }

  return {
    attach() {
      page.window?.addEventListener('online', online);
      page.document?.addEventListener('visibilitychange', shown);
      unsubscribe ??= store.subscribe(changed);
    },
    detach() {
      page.window?.removeEventListener('online', online);
      page.document?.removeEventListener('visibilitychange', shown);
      timers.clearTimeout(afterSave);
      unsubscribe?.();
      unsubscribe = null;
    },
  };
}
