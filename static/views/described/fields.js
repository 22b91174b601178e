/** The fields of a described form, one way of asking for each type. */
import {data, fieldChoices, measures, unitLabel} from '../../clinical/index.js';
import {html} from '../html.js';

/**
 * @param {{field: object, value: unknown, error: string|null, onChange: (value: unknown) => void, items: object[], words?: object}} props
 *   `items` that a field may refer to; `words` more to say beside a choice, by its id
 */
export function Field({field, value, error, onChange, items, words}) {
  const id = `d-${field.id}`;
  const hints = [field.hint && `${id}-hint`, error && `${id}-error`].filter(Boolean).join(' ') || undefined;
  const common = {id, name: field.id, autocomplete: 'off', 'aria-describedby': hints, 'aria-invalid': error ? 'true' : undefined};
  const Control = CONTROLS[field.type];
  const about = html`<${Label} field=${field} id=${id} />${field.hint && html`<p class="hint" id=${`${id}-hint`}>${field.hint}</p>`}`;
  const wrong = error && html`<p class="error" id=${`${id}-error`}>${error}</p>`;
  const control = html`<${Control} field=${field} value=${value} onChange=${onChange} common=${common} items=${items} words=${words} />`;
  if (GROUPS.has(field.type)) return html`<fieldset class="field" id=${id} tabindex="-1" aria-describedby=${hints}>${about}${control}${wrong}</fieldset>`;
  return html`<div class="field">${about}${control}${wrong}</div>`;
}

const GROUPS = new Set(['choice', 'measures', 'rules', 'key']);

function Label({field, id}) {
  const words = html`${field.label}${!field.required && html` <span class="optional">${field.can_wait ? 'can wait' : 'if it helps'}</span>`}`;
  return GROUPS.has(field.type) ? html`<legend>${words}</legend>` : html`<label for=${id}>${words}</label>`;
}

function TextControl({field, value, onChange, common}) {
  const input = (event) => onChange(event.target.value);
  if (field.lines) return html`<textarea ...${common} rows=${field.lines} value=${value} onInput=${input}></textarea>`;
  return html`<input type="text" ...${common} value=${value} onInput=${input} />`;
}

function CountControl({value, onChange, common}) {
  return html`<input type="text" inputmode="numeric" class="short" ...${common} value=${value} onInput=${(event) => onChange(event.target.value)} />`;
}

function DayControl({value, onChange, common}) {
  return html`<input type="date" ...${common} value=${value} onInput=${(event) => onChange(event.target.value)} />`;
}

function ChoiceControl({field, value, onChange, words = {}}) {
  return html`<div class="options">${fieldChoices(field).map((each) => html`<label class="option">
    <input type="radio" name=${field.id} value=${each.id} checked=${value === each.id} onChange=${() => onChange(each.id)} />
    <span><span>${each.label}${(words[each.id] ?? each.words) && html`<br /><small><bdi>${words[each.id] ?? each.words}</bdi></small>`}</span></span>
  </label>`)}</div>
  ${!field.required && value && html`<button type="button" class="quiet" onClick=${() => onChange('')}>Leave this open</button>`}`;
}

function CodeControl({value, onChange, common}) {
  const {chapters, codes} = data.activities;
  return html`<select ...${common} value=${value} onChange=${(event) => onChange(event.target.value)}>
    <option value="" selected=${!value}>Choose</option>
    ${chapters.map((chapter) => html`<optgroup label=${chapter.label}>${codes.filter((each) => each.chapter === chapter.id)
    .map((each) => html`<option value=${each.code} selected=${value === each.code}>${each.label} (${each.code})</option>`)}</optgroup>`)}
  </select>`;
}

function ItemControl({value, onChange, common, items}) {
  return html`<select ...${common} value=${value} onChange=${(event) => onChange(event.target.value)}>
    <option value="" selected=${!value}>None</option>
    ${items.map(({item, fields}) => html`<option value=${item} selected=${value === item}>${fields.name}</option>`)}
  </select>`;
}

function LengthControl({field, value, onChange, common}) {
  return html`<div class="value">
    <input type="text" inputmode="decimal" class="short" ...${common} value=${value.value} onInput=${(event) => onChange({...value, value: event.target.value})} />
    <div class="units" role="radiogroup" aria-label=${`Unit of ${field.label}`}>${data.described.lengths.units.map((unit) => html`<label class="unit-option">
      <input type="radio" name=${`${field.id}-unit`} value=${unit} checked=${value.unit === unit} onChange=${() => onChange({...value, unit})} /><span>${unitLabel(unit)}</span>
    </label>`)}</div></div>`;
}

function MeasuresControl({value}) {
  return html`<ul class="cautions">${value.map((id) => html`<li>${measures[id].title}</li>`)}</ul>`;
}

/** What a form is about was chosen before it was opened. */
function KeyControl({words}) {
  return html`<p><bdi>${words}</bdi></p>`;
}

function RulesControl({field, value, onChange, items}) {
  const set = (id, on) => onChange(on ? [...value, id] : value.filter((each) => each !== id));
  if (items.length === 0) return html`<p class="soft">None to choose.</p>`;
  return html`<div class="options">${items.map(({id, title}) => html`<label class="option" key=${id}>
    <input type="checkbox" name=${field.id} value=${id} checked=${value.includes(id)} onChange=${(event) => set(id, event.target.checked)} /><span>${title}</span></label>`)}</div>`;
}

const CONTROLS = {text: TextControl, count: CountControl, day: DayControl, choice: ChoiceControl, activity_code: CodeControl,
  item: ItemControl, length: LengthControl, measures: MeasuresControl, key: KeyControl, rules: RulesControl};
