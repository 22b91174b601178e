/** Messages beside their fields: what is wrong and what to do. What was typed stays. */

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
  field?.scrollIntoView({block: 'center'});
}

/** @param {HTMLFormElement} form  @param {{field: string, message: string}[]} errors replaces all earlier messages */
export function showErrors(form, errors) {
  for (const slot of form.querySelectorAll('[data-error-for]')) showOne(form, slot.dataset.errorFor, null);
  for (const {field, message} of [...errors].reverse()) showOne(form, field, message);
}

/** The message of one field, or none. */
export function showOne(form, path, message) {
  const slot = form.querySelector(`[data-error-for="${CSS.escape(path)}"]`);
  if (!slot) return;
  slot.textContent = message ?? '';
  slot.hidden = !message;
  const field = fieldElement(form, path);
  const inputs = field?.dataset.type === 'number' || field?.dataset.type === 'text'
    ? field.querySelectorAll('.value > input, textarea') : [];
  for (const input of inputs) input.toggleAttribute('aria-invalid', false);
  for (const input of inputs) if (message) input.setAttribute('aria-invalid', 'true');
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
