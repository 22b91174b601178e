// Tells the screens of this window and of others that something changed. It only refreshes views;
// nothing is decided by these messages.

/**
 * @param {string} name
 * @returns {{tell: (change: {type: string}) => void, subscribe: (fn: Function) => () => void, close: () => void}}
 */
export function createChanges(name) {
  const listeners = new Set();
  const channel = typeof BroadcastChannel === 'function' ? new BroadcastChannel(name) : null;
  channel?.unref?.();  // under Node an open channel would keep the process alive

  const hear = (change) => {
    for (const listener of listeners) listener(change);
  };
  if (channel) channel.onmessage = ({data}) => hear({...data, elsewhere: true});

  return {
    tell(change) {
      channel?.postMessage(change);
      hear(change);
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close() {
      channel?.close();
      listeners.clear();
    },
  };
}
