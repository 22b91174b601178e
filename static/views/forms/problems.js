/** Messages beside their fields: what is wrong and what to do. What was typed stays. */
import {unitLabel} from '../../clinical/index.js';

/** The element of a field, by its path, also inside a series. */
export function fieldElement(form, path) {
  return form.querySelector(`[data-field="${CSS.escape(path)}"]`) ?? form.querySelector(`[data-series="${CSS.escape(path)}"]`);
}

/** Moves to a field so that it can be mended at once. */
export function focusField(form, path) {
  const field = fieldElement(form, path);
  field?.closest('details')?.setAttribute('open', '');
  const target = field?.querySelector('input:not([type="hidden"]), textarea, select, button');
  target?.focus();
  // The middle of a long list of choices is not where reading begins.
  field?.scrollIntoView({block: field.offsetHeight > window.innerHeight / 2 ? 'start' : 'center'});
}

/** Of the errors on show, those that are not mended yet; new ones wait for the next try. */
export const stillWrong = (shown, now) => shown.filter((one) => now.some((other) => other.field === one.field && other.code === one.code));

/** @param {HTMLFormElement} form  @param {{field: string, message: string}[]} errors replaces all earlier messages */
export function showErrors(form, errors, onOffer) {
  for (const slot of form.querySelectorAll('[data-error-for]')) showOne(form, slot.dataset.errorFor, null);
  for (const error of [...errors].reverse()) showOne(form, error.field, error, onOffer);
}

/**
 * The message of one field, or none; with a likely value to take over by one tap when there is one.
 * @param {HTMLFormElement} form  @param {string} path
 * @param {{message: string, offer?: {value: string, unit: string}}|null|undefined} error
 * @param {(path: string, offer: {value: string, unit: string}) => void} [onOffer]
 */
export function showOne(form, path, error, onOffer) {
  const slot = form.querySelector(`[data-error-for="${CSS.escape(path)}"]`);
  if (!slot) return;
  slot.textContent = '';
  slot.hidden = !error;
  if (error) slot.append(inSpan(error.message));
  if (error?.offer && onOffer) slot.append(offerButton(error.offer, () => onOffer(path, error.offer)));
  for (const input of typedInputs(fieldElement(form, path))) {
    if (error) input.setAttribute('aria-invalid', 'true');
    else input.removeAttribute('aria-invalid');
  }
}

function typedInputs(field) {
  const typed = field?.dataset.type === 'number' || field?.dataset.type === 'text';
  return typed ? field.querySelectorAll('.value > input, textarea') : [];
}

function inSpan(text) {
  const span = document.createElement('span');
  span.textContent = text;
  return span;
}

function offerButton({value, unit}, onTap) {
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'secondary offer';
  button.textContent = `Use ${value} ${unitLabel(unit)}`;
  button.addEventListener('click', onTap);
  return button;
}

/**
 * Asks beside a field whether an unlikely value is right; the answer is kept with the entry.
 * @param {HTMLFormElement} form @param {{field: string, message: string}} question
 * @param {(path: string, confirmed: boolean) => void} onAnswer
 */
export function askBeside(form, {field, message}, onAnswer) {
  const place = fieldElement(form, field);
  if (!place || place.querySelector(':scope > .question')) return;
  const box = document.createElement('div');
  box.className = 'question';
  box.dataset.question = field;
  const words = document.createElement('p');
  words.textContent = message;
  const label = document.createElement('label');
  label.className = 'tick';
  const tick = document.createElement('input');
  tick.type = 'checkbox';
  const yes = document.createElement('span');
  yes.textContent = 'Yes, it is right as entered';
  label.append(tick, yes);
  box.append(words, label);
  tick.addEventListener('change', () => onAnswer(field, tick.checked));
  place.append(box);
}

/** Takes questions away, all of them or the one of a field. */
export function clearQuestions(form, path) {
  for (const box of form.querySelectorAll('.question')) {
    if (path === undefined || box.dataset.question === path) box.remove();
  }
}
