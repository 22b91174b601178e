/** What a form offers while it is filled: counting against the clock, and what can be told before saving. */
import {useEffect} from 'preact/hooks';
import {deriveFacts, findingsAtOnce} from '../../clinical/index.js';
import {html, render} from '../html.js';
import {Counter} from './counter.js';
import {MomentGuide} from './guide.js';
import {fieldElement} from './problems.js';
import {StepHead, headOf, momentOf, stepsOf} from './steps.js';
import {Stopwatch} from './stopwatch.js';

/**
 * @param {object} props
 * @param {object} props.measure  @param {object} props.form  @param {object} props.context
 * @param {Record<string, string>} [props.last] by field, what it was the last time, in words
 */
export function Helpers({measure, form, context, last = {}}) {
  useEffect(() => {
    if (!form.ready || !form.host.current) return;
    const element = form.host.current.querySelector('form');
    if (!element) return;
    const body = form.control.current.read().body;
    renderCounter(measure, element, form.control.current, body);
    renderTold(measure, element, body, context);
    renderAtOnce(measure, element, body, context);
    renderLast(element, last);
    renderStopwatch(measure, element, form.control.current);
    renderSteps(measure, element, form.control.current, body);
  }, [form.version]);
  return null;
}

/** The choice that says how long was counted, and the field that takes the count. */
function countingFields(measure) {
  const how = measure.fields.find((field) => field.choices?.some((choice) => choice.seconds));
  return how && {how, count: measure.fields.find((field) => field.type === 'number' && field.unit === '1')};
}

function renderCounter(measure, form, control, body) {
  if (measure.counter) renderPlainCounter(measure.counter, form, control);
  const counting = countingFields(measure);
  if (!counting) return;
  const {how, count} = counting;
  const chosen = how.choices.find((choice) => choice.id === secondsChoice(how, body));
  const use = (taps) => {
    control.set(how.id, 'choice', chosen.id);
    control.set(count.id, 'number', String(taps));
    fieldElement(form, count.id)?.scrollIntoView({block: 'center'});
  };
  render(html`<${Counter} key=${chosen.id} seconds=${chosen.seconds} what=${measure.counted.what} ...${counted(control, chosen.id)} onDone=${use} />`, slotAfter(form, how.id));
}

function renderPlainCounter({field, seconds, what}, form, control) {
  const use = (count) => control.set(field, 'number', String(count));
  render(html`<${Counter} seconds=${seconds} what=${what} ...${counted(control, field)} onDone=${use} />`, slotAfter(form, field));
}

/** What was counted so far, kept beside the clocks. */
function counted(control, id) {
  const taps = `${id}:taps`;
  return {count: {startedAt: control.clock(id), taps: control.clock(taps) ?? 0},
    onCount: (count) => control.setClocks({[id]: count.startedAt, [taps]: count.taps})};
}

/** What it was the last time beside each empty field; the field itself stays empty. */
function renderLast(form, last) {
  for (const [id, words] of Object.entries(last)) {
    const field = fieldElement(form, id);
    if (field) render(html`<p class="hint last">${words}</p>`, slotAfter(form, id, 'last-slot'));
  }
}

function renderStopwatch({stopwatch, fields}, form, control) {
  if (!stopwatch) return;
  for (const id of stopwatch.fields ?? [stopwatch.field]) {
    const {label} = fields.find((field) => field.id === id);
    const onStop = (seconds) => {
      control.setClock(id, null);
      control.set(id, 'number', seconds);
      fieldElement(form, id).scrollIntoView({block: 'center'});
    };
    render(html`<${Stopwatch} label=${label} watch=${stopwatch} startedAt=${control.clock(id)}
      onStart=${(at) => control.setClock(id, at)} onStop=${onStop} />`, slotAfter(form, id));
  }
}

/** Each step has its head, and the guide of its moment while it is open. */
function renderSteps(measure, form, control, {fields}) {
  for (const step of control.step() ? stepsOf(measure) : []) {
    const open = step.id === control.step();
    const at = open ? momentOf(measure, step.id) : null;
    const head = headOf(form, measure, step.id);
    render(html`<${StepHead} measure=${measure} step=${step} control=${control} open=${open} fields=${fields} />
      ${at && html`<${MomentGuide} moment=${at.moment} clock=${at.clock} first=${isFirst(measure, at)} startedAt=${control.clock(at.clock.id)}
        onStart=${(started) => control.setClock(at.clock.id, started)} />`}`, head);
  }
  if (control.arrived()) arriveAt(headOf(form, measure, control.step()));
}

function arriveAt(head) {
  head.scrollIntoView({block: 'start'});
  head.querySelector('h2').focus({preventScroll: true});
}

const isFirst = ({moments}, {moment, clock}) => moments.find((each) => each.clock === clock.id) === moment;

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

/** What an answer alone calls for stands under it at once: nobody looks for "Save" beside a client who is unwell. */
function renderAtOnce({id, rules}, form, body, context) {
  const found = findingsAtOnce(id, body, context);
  for (const field of new Set(rules.flatMap(({at_once: at}) => at ?? []))) {
    const advice = found.filter((each) => each.field === field);
    render(advice.map(({rule, word, because}) => html`<div key=${rule} class="message late" role="alert"><strong>${word}</strong><p>${because}</p></div>`), slotUnder(form, field));
  }
}

/** The slot under what is chosen: it moves there only when that changes, so that advice is read out once. */
function slotUnder(form, fieldId) {
  const field = fieldElement(form, fieldId);
  const slot = field.querySelector('.at-once') ?? Object.assign(document.createElement('div'), {className: 'at-once'});
  const place = [...field.querySelectorAll('input:checked')].at(-1)?.closest('label') ?? field.querySelector('.options').lastElementChild;
  if (place !== slot && place.nextElementSibling !== slot) place.after(slot);
  return slot;
}

function slotAfter(form, fieldId, kind = 'own-slot') {
  const field = fieldElement(form, fieldId);
  let slot = field.querySelector(`:scope > .${kind}`);
  if (!slot) {
    slot = document.createElement('div');
    slot.className = `slot ${kind}`;
    field.append(slot);
  }
  return slot;
}
