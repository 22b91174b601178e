/** Said where this phone's clock and the server's do not agree: by how much, and what to do about it. */
import {useStored, useSyncStatus} from './app_context.js';
import {sayCount} from './format.js';
import {html} from './html.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
// Our choice: less does not change what a record says, and phones that set their clock by the network keep to it.
const WORTH_SAYING = 10 * MINUTE;

export function ClockNote() {
  const {lastSyncedAt} = useSyncStatus();
  const clock = useStored(({store}) => store.meta('clock'), [lastSyncedAt]);
  const words = clockWords(clock ?? null);
  return words && html`<section class="message attention" aria-labelledby="clock"><h2 id="clock">The clocks disagree</h2>
    ${words.map((sentence) => html`<p key=${sentence}>${sentence}</p>`)}</section>`;
}

/**
 * @param {{behind: number, give: number}|null} clock how far this phone's clock was behind at the last sync, and how sure
 * @returns {string[]|null} null: not worth saying, or not known
 */
export function clockWords(clock) {
  if (!clock || Math.abs(clock.behind) - clock.give < WORTH_SAYING) return null;
  const words = [`At the last sync this phone’s clock was ${differenceWords(Math.abs(clock.behind))} `
    + `${clock.behind > 0 ? 'behind' : 'ahead of'} the server’s. What you record carries this phone’s date and time.`,
  'Look at the phone’s date, time and time zone. If they are wrong, set them right and sync again. '
    + 'If they are right, tell whoever looks after Lintel in your service that the server’s clock is wrong.'];
  if (clock.behind < -DAY) words.push('The server does not take what lies more than a day ahead of its clock. Nothing is lost: it stays here, and is sent again once the server’s clock is right.');
  return words;
}

function differenceWords(milliseconds) {
  if (milliseconds >= 2 * DAY) return sayCount(Math.round(milliseconds / DAY), 'day');
  if (milliseconds >= 2 * HOUR) return sayCount(Math.round(milliseconds / HOUR), 'hour');
  return sayCount(Math.round(milliseconds / MINUTE), 'minute');
}
