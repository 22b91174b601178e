/** The big stop, under the thumb while a task runs: the time is kept, recovery begins, the reason is asked for. */
import {html} from '../html.js';
import {secondsSince} from './clock.js';

/**
 * The clock that runs and can be stopped at once; none once recovery has begun or the end is told.
 * @param {object} measure  @param {object|null} control of its form
 */
export function stoppableClock({clocks = []}, control) {
  const clock = clocks.find((each) => each.stop_now);
  if (!clock || !control || control.clock(clock.id) === null || clock.stop_now.field in control.read().body.fields) return null;
  return control.clock(recoveryOf(clocks, clock)) === null ? clock : null;
}

/** @param {{measure: object, clock: object, control: object}} props */
export function StopNow({measure: {clocks}, clock, control}) {
  function stop() {
    const {after, field, value, ask} = clock.stop_now;
    control.set(after, 'number', String(secondsSince(control.clock(clock.id), Date.now())));
    control.setClock(recoveryOf(clocks, clock), Date.now());
    control.set(field, 'choice', value);
    control.focus(ask);
  }
  return html`<button type="button" class="primary grave" onClick=${stop}>Stop now</button>`;
}

const recoveryOf = (clocks, clock) => clocks[clocks.indexOf(clock) + 1].id;
