/** Counting beats or breaths against the clock: a huge remaining time and a pad to tap. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {html} from '../html.js';

/**
 * Time comes from the clock, never from counted ticks, so it survives a locked screen and a rotation.
 * @param {object} props
 * @param {number} props.seconds how long to count
 * @param {string} props.what "beat" or "breath"
 * @param {(count: number) => void} props.onDone with what was tapped
 */
export function Counter({seconds, what, onDone}) {
  const [startedAt, setStartedAt] = useState(/** @type {number|null} */ (null));
  const [taps, setTaps] = useState(0);
  const left = useSecondsLeft(startedAt, seconds);
  const finished = startedAt !== null && left === 0;
  const pad = useRef(null);

  useEffect(() => {
    if (finished) navigator.vibrate?.([200, 100, 200]);
  }, [finished]);

  useEffect(() => {
    // The whole pad under the thumb, clear of the bar at the bottom.
    if (startedAt !== null) pad.current?.scrollIntoView({block: 'center'});
  }, [startedAt]);

  function start() {
    setTaps(0);
    setStartedAt(Date.now());
  }
  if (startedAt === null) {
    return html`<div class="counter"><button type="button" class="secondary" onClick=${start}>Count for ${seconds} seconds</button></div>`;
  }
  return html`<div class="counter">
    <button type="button" ref=${pad} class=${finished ? 'pad' : 'pad running'} disabled=${finished} onClick=${() => setTaps(taps + 1)}>
      <span class="left">${left}</span>
      <span>${finished ? 'Time is up' : `seconds left. Tap for each ${what}.`}</span>
      <span class="tally">${taps} counted</span>
    </button>
    <p class="visually-hidden" role="status">${finished ? `Time is up. ${taps} counted.` : ''}</p>
    ${finished && html`<button type="button" class="secondary" onClick=${() => { onDone(taps); setStartedAt(null); }}>Use ${taps} in ${seconds} seconds</button>`}
    <button type="button" class="quiet" onClick=${() => setStartedAt(null)}>${finished ? 'Count again' : 'Stop counting'}</button>
  </div>`;
}

function useSecondsLeft(startedAt, seconds) {
  const [now, setNow] = useState(Date.now());
  const timer = useRef(0);
  useEffect(() => {
    if (startedAt === null) return undefined;
    setNow(Date.now());
    timer.current = setInterval(() => setNow(Date.now()), 200);
    return () => clearInterval(timer.current);
  }, [startedAt]);
  if (startedAt === null) return seconds;
  return Math.max(0, Math.ceil((startedAt + seconds * 1000 - now) / 1000));
}
