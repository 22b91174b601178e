/** When to be reminded: time of day, working days, days of quiet, by the clock of this phone. */
import {useState} from 'preact/hooks';
import {ask} from '../../sync/ask.js';
import {html} from '../html.js';

export const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'];

/** Our choice, until somebody chooses: before the first visit, from Monday to Friday. */
export const FIRST = {at: '07:30', days: '12345', quiet_from: null, quiet_until: null};

/** The time zone of this phone, such as "Europe/Dublin". */
export const zoneHere = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

/** Weekdays as the server takes them: digits in order. @param {string} days @param {number} day 1 is Monday @param {boolean} on */
export function withDay(days, day, on) {
  const chosen = new Set(days).add(String(day));
  if (!on) chosen.delete(String(day));
  return [...chosen].sort().join('');
}

/**
 * The request from what stands in the form.
 * @param {{at: string, days: string, quiet_from: string|null, quiet_until: string|null}} typed @param {string} zone
 */
export const habitsFrom = ({at, days, quiet_from: from, quiet_until: until}, zone) =>
  ({at, zone, days, quiet_from: from || null, quiet_until: until || null});

/** @param {{habits: object|null, onTold: (answer: object) => void}} props */
export function HabitsForm({habits, onTold}) {
  const [typed, setTyped] = useState({...FIRST, ...habits});
  const [problem, setProblem] = useState(null);
  const [done, setDone] = useState('');
  const zone = zoneHere();
  const set = (change) => {
    setTyped((now) => ({...now, ...change}));
    setDone('');
  };
  async function save(event) {
    event.preventDefault();
    setDone('');
    const told = await ask('/api/v1/reminders/habits', {body: habitsFrom(typed, zone)});
    setProblem(told.ok ? null : told);
    if (!told.ok) return document.getElementById(`habit-${told.field}`)?.focus();
    setDone('Saved.');
    return onTold(told.answer);
  }
  const wrong = (field) => problem?.field === field && html`<p class="error" id=${`habit-${field}-error`} role="alert">${problem.message}</p>`;
  const common = (field) => ({id: `habit-${field}`, autocomplete: 'off', 'aria-invalid': problem?.field === field ? 'true' : undefined,
    'aria-describedby': problem?.field === field ? `habit-${field}-error` : undefined});
  return html`<form onSubmit=${save} novalidate autocomplete="off">
    <div class="field"><label for="habit-at">Time of day</label>
      <input type="time" ...${common('at')} value=${typed.at} onInput=${(event) => set({at: event.target.value})} />${wrong('at')}
      <p class="hint">By the clock of ${zone.replaceAll('_', ' ')}, which this phone goes by.</p>
      ${habits && habits.zone !== zone && html`<p class="question">Until now the clock of ${habits.zone.replaceAll('_', ' ')} counts. Save to change to this phone’s.</p>`}</div>
    <fieldset class="field" id="habit-days" tabindex="-1"><legend>Your working days</legend>
      <div>${WEEKDAYS.map((name, index) => html`<label class="tick" key=${name}><input type="checkbox" autocomplete="off" checked=${typed.days.includes(String(index + 1))}
        onChange=${(event) => set({days: withDay(typed.days, index + 1, event.target.checked)})} /><span>${name}</span></label>`)}</div>${wrong('days')}</fieldset>
    <fieldset class="field"><legend>Days of quiet <span class="optional">such as a holiday</span></legend>
      <div class="field"><label for="habit-quiet_from">First day</label>
        <input type="date" ...${common('quiet_from')} value=${typed.quiet_from ?? ''} onInput=${(event) => set({quiet_from: event.target.value})} />${wrong('quiet_from')}</div>
      <div class="field"><label for="habit-quiet_until">Last day</label>
        <input type="date" ...${common('quiet_until')} value=${typed.quiet_until ?? ''} onInput=${(event) => set({quiet_until: event.target.value})} />${wrong('quiet_until')}</div></fieldset>
    ${problem && !KNOWN.has(problem.field) && html`<p class="error" role="alert">${problem.message}</p>`}
    <p role="status">${done}</p>
    <button type="submit" class="secondary">Save these times</button>
  </form>`;
}

const KNOWN = new Set(['at', 'days', 'quiet_from', 'quiet_until']);
