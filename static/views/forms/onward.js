/** What is under the thumb in a guided form: the next step, and beside it a big stop while a clock runs that has one. */
import {html} from '../html.js';
import {secondsLeft, secondsSince, useNow} from './clock.js';
import {momentOf, stepsOf} from './steps.js';

/**
 * @param {object} props
 * @param {object} props.measure  @param {object} props.control of its form
 * @param {unknown} props.save shown at the last step, and in a form that has no steps
 */
export function Onward({measure, control, save}) {
  const steps = stepsOf(measure);
  const at = steps.findIndex(({id}) => id === control.step());
  const waiting = useWaiting(measure, control, steps[at]?.id);
  if (at === -1 || at === steps.length - 1) return save;
  const next = steps[at + 1];
  const starts = clockToStart(measure, control, next.id);
  const stop = stoppable(measure, control);
  function go() {
    if (starts) control.setClock(starts.id, Date.now());
    control.openStep(next.id);
  }
  const words = starts ? starts.label : stop ? 'Next' : `Next: ${next.label}`;
  return html`<div class="onward">
    ${stop && html`<button type="button" class="primary grave" onClick=${() => stopNow(control, stop)}>Stop now</button>`}
    <button type="button" class=${waiting ? 'secondary' : 'primary'} onClick=${go}>${words}</button>
  </div>`;
}

/** True while the moment that is open has not come. */
function useWaiting(measure, control, step) {
  const at = momentOf(measure, step);
  const startedAt = at?.moment.seconds ? control.clock(at.clock.id) : null;
  const now = useNow(startedAt !== null, 500);
  return startedAt !== null && secondsLeft(startedAt, at.moment.seconds, now) > 0;
}

function clockToStart(measure, control, step) {
  const at = momentOf(measure, step);
  return at && control.clock(at.clock.id) === null ? at.clock : null;
}

/** The clock that runs and can be stopped at once; none once what follows it has begun, or the end is told. */
function stoppable({clocks = []}, control) {
  const clock = clocks.find(({id, stop_now: stop}) => stop && control.clock(id) !== null);
  if (!clock || (clock.stop_now.starts && control.clock(clock.stop_now.starts) !== null)) return null;
  return clock.stop_now.ended in control.read().body.fields ? null : clock;
}

/** The time is kept, recovery begins where there is one, and the reason is asked for. */
function stopNow(control, {id, stop_now: {after, starts, ended, value, ask}}) {
  control.set(after, 'number', String(secondsSince(control.clock(id), Date.now())));
  if (starts) control.setClock(starts, Date.now());
  if (value) control.set(ended, 'choice', value);
  control.focus(ask);
}
