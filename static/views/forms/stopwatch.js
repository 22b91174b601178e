/** A stopwatch on one large area: tap to start, tap to stop, and the time stands in its field. */
import {useEffect, useRef} from 'preact/hooks';
import {html} from '../html.js';
import {inTenths, useNow} from './clock.js';

/**
 * @param {object} props
 * @param {string} props.label what is timed
 * @param {{start: string, stop: string, stop_at?: number}} props.watch the words on the area; a time at which it stops by itself
 * @param {number|null} props.startedAt in milliseconds, kept with the draft
 * @param {(startedAt: number|null) => void} props.onStart
 * @param {(seconds: string) => void} props.onStop with the seconds as they are entered
 */
export function Stopwatch({label, watch, startedAt, onStart, onStop}) {
  const running = startedAt !== null;
  const now = useNow(running, 100);
  const pad = useRef(null);
  const passed = running ? Math.max(0, now - startedAt) : 0;
  const full = watch.stop_at !== undefined && passed >= watch.stop_at * 1000;

  useEffect(() => {
    if (!running || !full) return;
    navigator.vibrate?.([200, 100, 200]);
    onStop(String(watch.stop_at));
  }, [running, full]);
  useEffect(() => {
    // The whole area under the thumb, clear of the bar at the bottom.
    if (running) pad.current?.scrollIntoView({block: 'center'});
  }, [running]);

  if (!running) {
    return html`<div class="counter"><button type="button" class="secondary" onClick=${() => onStart(Date.now())}>${label}: ${watch.start.toLowerCase()}</button></div>`;
  }
  return html`<div class="counter">
    <button type="button" ref=${pad} class="pad running" onClick=${() => onStop(inTenths(Date.now() - startedAt))}>
      <span class="left" aria-hidden="true">${(Math.floor(passed / 100) / 10).toFixed(1)}</span>
      <span>${watch.stop}</span>
    </button>
    <button type="button" class="quiet" onClick=${() => onStart(null)}>Start again from nothing</button>
  </div>`;
}
