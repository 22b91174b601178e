/** What a form offers while it is filled: counting against the clock, and what can be told before saving. */
import {useEffect} from 'preact/hooks';
import {deriveFacts} from '../../clinical/index.js';
import {html, render} from '../html.js';
import {Counter} from './counter.js';
import {fieldElement} from './problems.js';

/** @param {{measure: object, form: object, context: object}} props */
export function Helpers({measure, form, context}) {
  useEffect(() => {
    if (!form.ready || !form.host.current) return;
    const element = form.host.current.querySelector('form');
    if (!element) return;
    const body = form.control.current.read().body;
    renderCounter(measure, element, form.control.current, body);
    renderTold(measure, element, body, context);
  }, [form.version]);
  return null;
}

/** The choice that says how long was counted, and the field that takes the count. */
function countingFields(measure) {
  const how = measure.fields.find((field) => field.choices?.some((choice) => choice.seconds));
  return how && {how, count: measure.fields.find((field) => field.type === 'number' && field.unit === '1')};
}

function renderCounter(measure, form, control, body) {
  const counting = countingFields(measure);
  if (!counting) return;
  const {how, count} = counting;
  const chosen = how.choices.find((choice) => choice.id === secondsChoice(how, body));
  const use = (taps) => {
    control.set(how.id, 'choice', chosen.id);
    control.set(count.id, 'number', String(taps));
    fieldElement(form, count.id)?.scrollIntoView({block: 'center'});
  };
  const what = measure.id === 'pulse' ? 'beat' : 'breath';
  render(html`<${Counter} key=${chosen.id} seconds=${chosen.seconds} what=${what} onDone=${use} />`, slotAfter(form, how.id));
}

/** A full minute once the rhythm is uneven, else what was chosen, else the shortest. */
function secondsChoice(how, body) {
  const timed = how.choices.filter((choice) => choice.seconds);
  const longest = timed.reduce((one, other) => (other.seconds > one.seconds ? other : one));
  const uneven = body.fields.rhythm !== undefined && body.fields.rhythm !== 'regular';
  if (uneven) return longest.id;
  return timed.find((choice) => choice.id === body.fields[how.id])?.id ?? timed[0].id;
}

/** Facts worth telling at once, such as the cuff for this arm, beside the field they come from. */
const TOLD = {
  blood_pressure: [
    {after: 'arm_circumference', fact: 'cuff_advised', words: (label) => `For this arm: ${label.toLowerCase()} cuff.`},
    {after: 'palpated_systolic', fact: 'inflate_to', words: (value) => `Pump up to ${value} mmHg.`},
  ],
};

function renderTold(measure, form, body, context) {
  const told = TOLD[measure.id] ?? [];
  const facts = told.length > 0 ? deriveFacts(measure.id, body, context) : {};
  for (const {after, fact, words} of told) {
    const value = facts[fact];
    const label = measure.fields.flatMap((field) => field.choices ?? []).find((choice) => choice.id === value)?.label ?? value;
    render(html`<p class="told" role="status">${value === undefined || value === null ? '' : words(label)}</p>`, slotAfter(form, after));
  }
}

function slotAfter(form, fieldId) {
  const field = fieldElement(form, fieldId);
  let slot = field.querySelector(':scope > .slot');
  if (!slot) {
    slot = document.createElement('div');
    slot.className = 'slot';
    field.append(slot);
  }
  return slot;
}
