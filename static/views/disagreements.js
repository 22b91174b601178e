/** Where two records of a client differ: both are shown until a person says which is right. */
import {html} from './html.js';
import {targetLabel} from './reading_words.js';
import {NotSaved, useSaving} from './saving.js';

const FIELD_NAMES = {name: 'the name', preferred_name: 'the name used', birth_date: 'the date of birth', sex: 'the sex',
  address: 'the address', access: 'how to get in', phone: 'the phone number', language: 'the language',
  reason_for_referral: 'the reason for referral'};

/** @param {{card: object, readOnly?: boolean}} props */
export function Disagreements({card, readOnly = false}) {
  return card.disagreements.map((each) => html`<${Disagreement} key=${each.field} client=${card.client} disagreement=${each} readOnly=${readOnly} />`);
}

function Disagreement({client, disagreement, readOnly}) {
  const {field, options} = disagreement;
  const {save, saveAll, problem} = useSaving();
  const details = field in FIELD_NAMES;
  // The new entry names all it has seen, so that a third change made elsewhere stays visible.
  const settle = (value) => save({kind: 'details', schema: 1, client, visit: null,
    body: {set: {[field]: value}, seen: {[field]: options.map((option) => option.entry)}}});
  // Of targets one stays, and the others are taken back with the reason; that they stood remains readable.
  const keepTarget = (entry) => saveAll(options.filter((option) => option.entry !== entry).map((option) => ({kind: 'target', schema: 1,
    client, visit: null, voids: option.entry, reason: 'Another target was said to be the right one.', body: {}})));
  return html`<section class="message attention">
    <h2>Two records differ on ${details ? FIELD_NAMES[field] : targetName(field)}</h2>
    <p>Both are kept. ${details ? 'Ask the client which is right.' : 'Readings are held against both until one is said to be right.'}</p>
    <${NotSaved} problem=${problem} />
    <ul class="steps-apart">${options.map((option) => html`<li key=${option.entry}>
      <p><bdi>${sayOption(option.value)}</bdi></p>
      ${!readOnly && html`<button type="button" class="secondary" onClick=${() => (details ? settle(option.value) : keepTarget(option.entry))}>This is right</button>`}
    </li>`)}</ul>
  </section>`;
}

function targetName(field) {
  const [, measure, name] = field.split('.');
  return `the target for ${targetLabel({measure, field: name}).toLowerCase()}`;
}

function sayOption(value) {
  return typeof value === 'string' ? value : `${value.low ?? '…'} to ${value.high ?? '…'}, set by ${value.set_by ?? 'somebody'}`;
}
