/** One measure's form at work: reads it, fills it, shows what depends on what, and says what is wrong. */
import {checkReading, evaluate, parseNumber} from '../../clinical/index.js';
import {inputsOf, isBlank, rawValue, setRawValue} from './controls.js';
import {askBeside, clearQuestions, fieldElement, focusField, showErrors, showOne} from './problems.js';
import {enliveSeries} from './rows.js';
import {foldSteps, stepOfField, stepsOf} from './steps.js';

/**
 * @param {HTMLFormElement} form  @param {object} measure
 * @param {{context: object, onChange: (how?: {atOnce: boolean}) => void, guided?: boolean}} options
 *   `onChange` hears whether the change must be kept at once; `guided` opens one step after the other where the measure has moments
 */
export function createForm(form, measure, {context, onChange, guided = false}) {
  const confirmed = new Set();
  const series = new Map();
  const clocks = {};
  let step = guided ? stepsOf(measure)[0]?.id ?? null : null;
  let arriving = false;

  function changed(event) {
    if (inQuestion(event)) return;
    const path = event?.target?.closest?.('[data-field]')?.dataset.field;
    if (event?.target?.checked) keepAlone(form, measure, event.target);
    if (path && confirmed.delete(path)) clearQuestions(form, path);
    refreshShown();
    onChange();
  }

  /** The fields on the form with their paths, series unfolded. */
  function* leaves() {
    for (const field of measure.fields) {
      if (field.type !== 'series') yield {field, path: field.id};
      else for (let index = 0; index < series.get(field.id).count(); index += 1) {
        for (const item of field.item) yield {field: item, path: `${field.id}.${index}.${item.id}`, series: field.id, index};
      }
    }
  }

  function refreshShown() {
    const facts = plainFacts();
    for (const field of measure.fields) hideUnless(field, fieldElement(form, field.id), facts);
    if (step) foldSteps(form, measure, step);
    refreshSteps(form, measure, facts);
  }

  function plainFacts() {
    const facts = {};
    for (const {field, path, series: within} of leaves()) {
      const value = rawValue(form, path, field.type);
      if (!within && !isBlank(value)) facts[field.id] = field.type === 'number' ? parseNumber(value, field.decimals ?? 0).value : value;
    }
    return facts;
  }

  /** The body as it would be saved, and what cannot be read as it stands. */
  function read() {
    const body = {fields: {}, units: {}, technique: rawValue(form, 'technique', 'choices'), confirmed: [...confirmed]};
    const errors = [];
    for (const leaf of leaves()) readLeaf(leaf, body, errors);
    // Rows left empty at the end are no readings; with none filled, the first is what to fill in, where one has to be.
    for (const id of series.keys()) {
      const {required} = measure.fields.find((field) => field.id === id);
      if (body.fields[id] || evaluate(required, plainFacts()) === true) body.fields[id] = Array.from(body.fields[id] ?? [{}], (row) => row ?? {});
    }
    return {body, errors};
  }

  function readLeaf({field, path, series: within, index}, body, errors) {
    if (fieldElement(form, path)?.closest('[hidden]')) return;
    const raw = rawValue(form, path, field.type);
    if (isBlank(raw) || (typeof raw === 'string' && raw.trim() === '')) return;
    let value = raw;
    if (field.type === 'number') {
      const parsed = parseNumber(raw, field.decimals ?? 0);
      if (parsed.error) errors.push({field: path, code: parsed.error, message: parsed.message});
      value = parsed.value ?? null;
    }
    if (value === null) return;
    if (within) (body.fields[within] ??= [])[index] = {...body.fields[within][index], [field.id]: value};
    else body.fields[field.id] = typeof value === 'string' ? value.trim() : value;
    const unit = rawValue(form, `${path}__unit`, 'choice');
    if (unit) body.units[path] = unit;
  }

  /** Everything wrong and everything to ask, as it stands now. */
  function check() {
    const {body, errors} = read();
    const checked = checkReading(measure.id, body, context);
    const unread = new Set(errors.map((error) => error.field));
    return {
      body,
      errors: [...errors, ...checked.errors.filter((error) => !unread.has(error.field))],
      questions: checked.questions,
    };
  }

  /** Checks the field just left, so that a slip is seen while the cuff is still on. */
  function checkLeft(event) {
    // A tap on a button within the field is an answer to what stands there; showing it anew would swallow the tap.
    if (inQuestion(event) || event.relatedTarget?.closest?.('[data-error-for]')) return;
    const path = event.target.closest('[data-field]')?.dataset.field;
    if (!path || isBlank(rawValue(form, path, event.target.closest('[data-field]').dataset.type))) return;
    const {errors, questions} = check();
    showOne(form, path, errors.find((error) => error.field === path && error.code !== 'required'), takeOffer);
    clearQuestions(form, path);
    ask(questions.filter((question) => question.field === path));
  }

  /** Takes a likely value over, as if it had been typed. */
  function takeOffer(path, {value, unit}) {
    setRawValue(form, path, 'number', value);
    if (inputsOf(form, `${path}__unit`).length > 0) setRawValue(form, `${path}__unit`, 'choice', unit);
    showOne(form, path, null);
    focusField(form, path);
    changed();
  }

  function ask(questions) {
    for (const question of questions) {
      askBeside(form, question, (path, yes) => {
        if (yes) confirmed.add(path);
        else confirmed.delete(path);
        onChange();
      });
    }
  }

  /** Shows all problems; answers the body when there are none. */
  function submit() {
    const {body, errors, questions} = check();
    showErrors(form, errors, takeOffer);
    clearQuestions(form);
    ask(questions);
    return {body: errors.length + questions.length === 0 ? body : null, errors, questions};
  }

  function raw() {
    const values = {technique: rawValue(form, 'technique', 'choices')};
    for (const {field, path} of leaves()) {
      values[path] = rawValue(form, path, field.type);
      if (field.units?.length > 1) values[`${path}__unit`] = rawValue(form, `${path}__unit`, 'choice');
    }
    return {values, rows: Object.fromEntries([...series].map(([id, one]) => [id, one.count()])), confirmed: [...confirmed], clocks, step};
  }

  function restore(saved) {
    Object.assign(clocks, saved.clocks);
    if (step) step = saved.step ?? step;
    for (const [id, count] of Object.entries(saved.rows ?? {})) series.get(id)?.setCount(count);
    setRawValue(form, 'technique', 'choices', saved.values.technique);
    for (const {field, path} of leaves()) {
      if (path in saved.values) setRawValue(form, path, field.type, saved.values[path]);
      const unit = saved.values[`${path}__unit`];
      if (unit) setRawValue(form, `${path}__unit`, 'choice', unit);
    }
    for (const path of saved.confirmed ?? []) confirmed.add(path);
    refreshShown();
  }

  for (const section of form.querySelectorAll('[data-series]')) {
    const one = enliveSeries(section, changed);
    series.set(section.dataset.series, one);
    one.setCount(Number(section.dataset.min));
  }
  form.querySelector('[data-tick-all]')?.addEventListener('click', () => {
    tickShownSteps(form);
    changed();
  });
  form.addEventListener('input', changed);
  form.addEventListener('change', changed);
  form.addEventListener('focusout', checkLeft);
  form.addEventListener('submit', (event) => event.preventDefault());
  refreshShown();

  function setClocks(some) {
    Object.assign(clocks, some);
    refreshShown();
    onChange({atOnce: true});
  }
  function openStep(id) {
    step = id;
    arriving = true;
    changed();
  }
  function focus(path) {
    const within = step && stepOfField(measure, path);
    if (within && within !== step) {
      step = within;
      changed();
    }
    focusField(form, path);
  }

  return {submit, check, raw, restore, read, focus, openStep,
    /** The step that is open; null in a form that shows all of itself. Kept with the draft. */
    step: () => step,
    /** Once true after a step was opened: then its head is where reading goes on. */
    arrived() {
      const here = arriving;
      arriving = false;
      return here;
    },
    /** When a clock was started, in milliseconds; null while it stands. Kept with the draft, so that it outlives a reload. */
    clock: (id) => clocks[id] ?? null,
    setClock: (id, startedAt) => setClocks({[id]: startedAt}),
    /** Several at once, and what was counted by them. */
    setClocks,
    set(path, type, value) {
      setRawValue(form, path, type, value);
      changed();
    }};
}

/** A saved body as the raw values of a form, for a correction. */
export function rawFromBody(measure, body) {
  const values = {technique: body.technique ?? []};
  const rows = {};
  for (const field of measure.fields) {
    const value = body.fields?.[field.id];
    if (field.type !== 'series') values[field.id] = value ?? '';
    else {
      rows[field.id] = value?.length ?? 0;
      (value ?? []).forEach((row, index) => {
        for (const [id, item] of Object.entries(row)) values[`${field.id}.${index}.${id}`] = item;
      });
    }
  }
  for (const [path, unit] of Object.entries(body.units ?? {})) values[`${path}__unit`] = unit;
  return {values, rows, confirmed: body.confirmed ?? []};
}

/** Steps of another way of measuring go away; while the way is not chosen yet, all are there to read. */
function refreshSteps(form, measure, facts) {
  if (measure.technique.length === 0) return;
  for (const step of measure.technique) {
    form.querySelector(`[data-step="${step.id}"]`).hidden = step.shown !== undefined && evaluate(step.shown, facts) === false;
  }
  const count = form.querySelectorAll('[data-step]:not([hidden])').length;
  form.querySelector('.technique summary').textContent = `Technique, ${count} ${count === 1 ? 'point' : 'points'}`;
}

function tickShownSteps(form) {
  for (const step of form.querySelectorAll('[data-step]')) if (!step.hidden) step.querySelector('input').checked = true;
}

/** A question beside a field is not the field: answering it changes no value. */
function inQuestion(event) {
  return Boolean(event?.target?.closest?.('.question'));
}

function hideUnless({shown}, element, facts) {
  if (shown && element) element.hidden = evaluate(shown, facts) !== true;
}

/** "None of these" and the rest exclude each other: ticking one side clears the other. */
function keepAlone(form, measure, ticked) {
  const choices = measure.fields.find((field) => field.id === ticked.name && field.type === 'choices')?.choices ?? [];
  const alone = new Set(choices.filter((choice) => choice.alone).map((choice) => choice.id));
  if (alone.size === 0) return;
  for (const input of inputsOf(form, ticked.name)) {
    if (input !== ticked && alone.has(input.value) !== alone.has(ticked.value)) input.checked = false;
    if (input !== ticked && alone.has(ticked.value)) input.checked = false;
  }
}
