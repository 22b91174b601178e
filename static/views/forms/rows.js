/** Repeated groups of fields, such as one blood-pressure reading after the other. */

/**
 * Brings a series to life inside a form.
 * @param {HTMLElement} section with data-series, what a row is called, a list and a template
 * @returns {{add: () => HTMLElement, count: () => number, setCount: (count: number) => void}}
 */
export function enliveSeries(section, onChange) {
  const list = section.querySelector('.rows');
  const template = section.querySelector('template');
  const {series, min, max, rowName} = section.dataset;
  const addButton = section.querySelector('[data-add]');

  function add() {
    const row = template.content.firstElementChild.cloneNode(true);
    list.append(row);
    row.querySelector('[data-remove]').addEventListener('click', () => remove(row));
    renumber();
    return row;
  }
  function remove(row) {
    row.remove();
    renumber();
    onChange();
    (list.lastElementChild?.querySelector('input') ?? addButton).focus();
  }
  function renumber() {
    [...list.children].forEach((row, index) => {
      row.querySelector('.row-title').textContent = `${rowName} ${index + 1}`;
      placeRow(row, `${series}.${index}.`);
      row.querySelector('[data-remove]').hidden = list.children.length <= Number(min);
    });
    addButton.hidden = list.children.length >= Number(max);
  }
  addButton.addEventListener('click', () => {
    add().querySelector('input')?.focus();
    onChange();
  });
  return {
    add,
    count: () => list.children.length,
    setCount(count) {
      while (list.children.length < Math.max(count, Number(min))) add();
    },
  };
}

const PLACED = ['name', 'id', 'for', 'data-field', 'data-error-for', 'aria-describedby'];

/** Writes the row's place into every name that carries it; the placeholder stays readable as data-row. */
function placeRow(row, prefix) {
  const former = row.dataset.row ?? '__row__.';
  for (const element of row.querySelectorAll('*')) {
    for (const name of PLACED) {
      const value = element.getAttribute(name);
      if (value?.includes(former)) element.setAttribute(name, value.replaceAll(former, prefix));
    }
  }
  row.dataset.row = prefix;
}
