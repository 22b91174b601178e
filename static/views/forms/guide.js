/** Guided moments: each clock is started once, each moment says how long to wait, and when to measure. */
import {useEffect} from 'preact/hooks';
import {html} from '../html.js';
import {minutesAndSeconds, secondsLeft, secondsSince, useNow} from './clock.js';

/**
 * @param {object} props
 * @param {object} props.moment of the measure's data, with the clock it goes by
 * @param {object} props.clock of the measure's data
 * @param {boolean} props.first whether this is the first moment of its clock
 * @param {number|null} props.startedAt in milliseconds, kept with the draft
 * @param {(startedAt: number|null) => void} props.onStart
 */
export function MomentGuide({moment, clock, first, startedAt, onStart}) {
  const now = useNow(startedAt !== null);
  const due = moment.seconds !== undefined;
  const left = startedAt === null || !due ? null : secondsLeft(startedAt, moment.seconds, now);
  useEffect(() => {
    if (left === 0 && moment.seconds > 0 && now - startedAt - moment.seconds * 1000 < 2000) navigator.vibrate?.([200, 100, 200]);
  }, [left === 0]);

  if (startedAt === null) {
    return html`<div class="guide">
      ${first ? html`<button type="button" class="secondary" onClick=${() => onStart(Date.now())}>${clock.label}</button>`
        : html`<p class="hint">Comes ${moment.when}.</p>`}
    </div>`;
  }
  return html`<div class="guide">
    ${due ? html`<${Wait} left=${left} />`
      : html`<p class="clocked"><span class="left">${minutesAndSeconds(secondsSince(startedAt, now))}</span> <span>since the start</span></p>`}
    <p class="visually-hidden" role="status">${left === 0 ? 'Measure now.' : ''}</p>
    ${first && html`<button type="button" class="quiet" onClick=${() => onStart(null)}>Set this clock back</button>`}
  </div>`;
}

function Wait({left}) {
  if (left === 0) return html`<p class="clocked due"><strong>Measure now</strong></p>`;
  return html`<p class="clocked"><span class="left">${minutesAndSeconds(left)}</span> <span>to wait</span></p>`;
}
