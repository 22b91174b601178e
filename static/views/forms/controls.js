/** Reading and filling the controls of a form, one field type after the other. */

/** The control of a path: one input, or all radios and checkboxes of that name. */
export function inputsOf(form, path) {
  return [...form.querySelectorAll(`[name="${CSS.escape(path)}"]`)];
}

/**
 * What stands in a field, as typed.
 * @param {HTMLFormElement} form @param {string} path @param {string} type
 * @returns {string|string[]|boolean}
 */
export function rawValue(form, path, type) {
  const inputs = inputsOf(form, path);
  if (type === 'flag') return inputs[0]?.checked ?? false;
  if (type === 'choices') return inputs.filter((input) => input.checked).map((input) => input.value);
  if (type === 'choice') return inputs.find((input) => input.checked)?.value ?? '';
  return inputs[0]?.value ?? '';
}

/** Puts a raw value back, as it was typed. */
export function setRawValue(form, path, type, value) {
  const inputs = inputsOf(form, path);
  if (type === 'flag') inputs.forEach((input) => { input.checked = Boolean(value); });
  else if (type === 'choices') inputs.forEach((input) => { input.checked = (value ?? []).includes(input.value); });
  else if (type === 'choice') inputs.forEach((input) => { input.checked = input.value === value; });
  else inputs.forEach((input) => { input.value = value ?? ''; });
}

/** Whether anything was entered. */
export function isBlank(value) {
  return value === '' || value === false || (Array.isArray(value) && value.length === 0) || value === undefined;
}
