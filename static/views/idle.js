/** When to lock: after some time without a touch, or out of sight. Told by the clock, not by timers alone: a
    phone that slept wakes up locked. */

/** Our choice, as minutes: what a therapist may choose from, and what is set until they do. */
export const LOCK_AFTER = [1, 2, 5, 10];
export const LOCK_AFTER_DEFAULT = 5;
const HIDDEN_AT_MOST = 2 * 60_000;
const LOOK_EVERY = 5_000;
const SIGNS = ['pointerdown', 'keydown', 'input', 'wheel', 'touchstart'];

/**
 * @param {object} parts
 * @param {() => void} parts.lock
 * @param {() => number} parts.idle milliseconds without a touch that lock
 * @param {() => number} [parts.now]
 * @param {EventTarget & {visibilityState: string}} [parts.page]
 * @param {{setInterval: Function, clearInterval: Function}} [parts.timers]
 * @returns {() => void} stops watching
 */
export function watchIdle({lock, idle, now = Date.now, page = document, timers = globalThis}) {
  let touchedAt = now();
  let hiddenAt = page.visibilityState === 'hidden' ? now() : null;

  const isDue = () => now() - touchedAt >= idle() || now() < touchedAt
    || (hiddenAt !== null && now() - hiddenAt >= Math.min(HIDDEN_AT_MOST, idle()));
  const look = () => { if (isDue()) lock(); };
  const touched = () => {
    if (isDue()) lock();  // the first touch after a long sleep must not show what lay there
    else touchedAt = now();
  };
  const seen = () => {
    look();
    hiddenAt = page.visibilityState === 'hidden' ? now() : null;
  };
  const timer = timers.setInterval(look, LOOK_EVERY);
  for (const sign of SIGNS) page.addEventListener(sign, touched, {capture: true, passive: true});
  page.addEventListener('visibilitychange', seen);
  return () => {
    timers.clearInterval(timer);
    for (const sign of SIGNS) page.removeEventListener(sign, touched, {capture: true});
    page.removeEventListener('visibilitychange', seen);
  };
}
