/** Counting beats or breaths against the clock: a huge remaining time and a pad to tap. */
import {useEffect, useRef} from 'preact/hooks';
import {html} from '../html.js';
import {secondsLeft, useNow} from './clock.js';

/**
 * Start and taps are kept with the draft and time comes from the clock, so that a reload, a locked screen and a
 * rotation lose nothing.
 * @param {object} props
 * @param {number} props.seconds how long to count
 * @param {string} props.what "beat" or "breath"
 * @param {{startedAt: number|null, taps: number}} props.count as it stands
 * @param {(count: {startedAt: number|null, taps: number}) => void} props.onCount
 * @param {(count: number) => void} props.onDone with what was tapped
 */
export function Counter({seconds, what, count: {startedAt, taps}, onCount, onDone}) {
  const running = startedAt !== null;
  const now = useNow(running);
  const left = running ? secondsLeft(startedAt, seconds, now) : seconds;
  const finished = running && left === 0;
  const pad = useRef(null);

  useEffect(() => {
    if (finished) navigator.vibrate?.([200, 100, 200]);
  }, [finished]);
  useEffect(() => {
    // The whole pad under the thumb, clear of the bar at the bottom.
    if (running) pad.current?.scrollIntoView({block: 'center'});
  }, [running]);

  const stop = () => onCount({startedAt: null, taps: 0});
  if (!running) {
    return html`<div class="counter"><button type="button" class="secondary" onClick=${() => onCount({startedAt: Date.now(), taps: 0})}>Count for ${seconds} seconds</button></div>`;
  }
  return html`<div class="counter">
    <button type="button" ref=${pad} class=${finished ? 'pad' : 'pad running'} disabled=${finished} onClick=${() => onCount({startedAt, taps: taps + 1})}>
      <span class="left">${left}</span>
      <span>${finished ? 'Time is up' : `seconds left. Tap for each ${what}.`}</span>
      <span class="tally">${taps} counted</span>
    </button>
    <p class="visually-hidden" role="status">${finished ? `Time is up. ${taps} counted.` : ''}</p>
    ${finished && html`<button type="button" class="secondary" onClick=${() => { stop(); onDone(taps); }}>Use ${taps} in ${seconds} seconds</button>`}
    <button type="button" class="quiet" onClick=${stop}>${finished ? 'Count again' : 'Stop counting'}</button>
  </div>`;
}
