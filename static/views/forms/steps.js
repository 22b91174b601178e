/** A guided form goes from moment to moment: one step is open, the others are lines that tell what they hold. */
import {unitLabel} from '../../clinical/index.js';
import {html} from '../html.js';
import {minutesAndSeconds, secondsLeft, useNow} from './clock.js';
import {fieldElement} from './problems.js';

/** The steps of a measure that is taken at several moments, in order; none of any other. @param {object} measure */
export const stepsOf = ({moments, groups}) => (moments ? groups : []);

/** The group that a field belongs to. @param {object} measure @param {string} path */
export const stepOfField = ({fields}, path) => fields.find(({id}) => id === path.split('.')[0])?.group;

/** The moment a step is, with the clock it goes by; null for a step that goes by none. */
export function momentOf({moments = [], clocks = []}, step) {
  const moment = moments.find(({id, clock}) => id === step && clock);
  return moment ? {moment, clock: clocks.find(({id}) => id === moment.clock)} : null;
}

/** Shows the fields of the open step only. @param {HTMLFormElement} form @param {object} measure @param {string} open */
export function foldSteps(form, measure, open) {
  for (const {id, group} of measure.fields) fieldElement(form, id).classList.toggle('folded', group !== open);
}

/** The place before a step's first field, instead of the heading that the form came with. */
export function headOf(form, {fields}, step) {
  const first = fieldElement(form, fields.find(({group}) => group === step).id);
  const before = first.previousElementSibling;
  if (before.classList.contains('step-head')) return before;
  const head = document.createElement('div');
  head.className = 'step-head';
  if (before.matches('h2.group')) before.replaceWith(head);
  else first.before(head);
  return head;
}

/**
 * The head of a step: its name where it is open, else a line that opens it.
 * @param {{measure: object, step: object, control: object, open: boolean, fields: object}} props fields as filled in
 */
export function StepHead({measure, step, control, open, fields}) {
  // Where the first question is named like the step, one of the two is enough to see.
  const twice = measure.fields.find(({group}) => group === step.id).label === step.label;
  if (open) return html`<h2 class=${twice ? 'group visually-hidden' : 'group'} tabindex="-1">${step.label}</h2>`;
  const held = told(measure, step.id, fields);
  return html`<h2 class="group"><button type="button" class="step-line" aria-expanded="false" onClick=${() => control.openStep(step.id)}>
    <span>${step.label}</span> ${held ? html`<small>${held}</small>` : html`<${Due} measure=${measure} step=${step.id} control=${control} />`}</button></h2>`;
}

/** When a moment that has not come yet is due. */
function Due({measure, step, control}) {
  const at = momentOf(measure, step);
  const startedAt = at && at.moment.seconds !== undefined ? control.clock(at.clock.id) : null;
  const now = useNow(startedAt !== null, 500);
  if (startedAt === null) return null;
  const left = secondsLeft(startedAt, at.moment.seconds, now);
  return html`<small>${left > 0 ? `in ${minutesAndSeconds(left)}` : 'due now'}</small>`;
}

const MOST_TOLD = 4;

function told(measure, step, values) {
  const words = measure.fields.filter(({id, group}) => group === step && id in values).map((field) => inWords(field, values[field.id]));
  return words.slice(0, MOST_TOLD).join(' · ') + (words.length > MOST_TOLD ? ' …' : '');
}

function inWords({type, choices, unit}, value) {
  if (type === 'number') return `${value} ${unitLabel(unit)}`;
  const label = (id) => choices.find((choice) => choice.id === id)?.label ?? id;
  return type === 'choices' ? value.map(label).join(', ') : type === 'choice' ? label(value) : value;
}
