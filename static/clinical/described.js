// What is described and not measured: its kinds and fields from the data, what stands of it, what is wrong.
import { data, isObject, own } from './data.js';
import { isDay } from './days.js';
import { isDecimal, toScaled } from './decimals.js';
import { parseNumber } from './parse.js';
import { resolveEntries, resolveFields, standing, versionRoots } from './record.js';
import { convert } from './units.js';
import { fill, unitLabel } from './wording.js';

/** The kinds by id: items that change over time, observations of one moment, single ones. */
export const describedKinds = data.described.kinds;

/**
 * The choices of a field, its own or a shared list.
 * @param {object} field
 * @returns {{id: string, label: string}[]}
 */
export function fieldChoices(field) {
  if (field.choices) return field.choices;
  return { ...data.goals, ...data.described, qualifiers: data.activities.qualifiers }[field.choices_of];
}

/**
 * The items of a kind in the order they were first recorded; one taken back is left out.
 * @param {object[]} entries
 * @param {string} kind
 * @returns {{item: string, kind: string, fields: object, seen: object, disagreements: object[],
 *   recorded_at: string, author: string}[]}
 */
export const describedItems = (entries, kind) => itemsAmong(resolveEntries(entries), kind);

/**
 * The same of chains that are resolved already, where many kinds are asked for.
 * @param {object[]} chains
 * @param {string} kind
 * @returns {object[]}
 */
export function itemsAmong(chains, kind) {
  const ours = standing(chains, kind);
  const roots = ours.length ? versionRoots(chains) : new Map();
  const single = describedKinds[kind].shape === 'single';
  const groups = new Map();
  for (const chain of ours) {
    const item = single ? kind : chain.entry.body.item || chain.root;
    const root = roots.get(item) ?? item;
    groups.set(root, [...(groups.get(root) ?? []), chain]);
  }
  const gone = new Set(chains.filter((chain) => chain.voided).map((chain) => chain.root));
  return [...groups].filter(([item]) => !gone.has(item)).map(([item, group]) => itemOf(kind, item, group, roots));
}

function itemOf(kind, item, chains, roots) {
  const { recorded_at = null, author = null } = chains[0].original ?? chains[0].entry;
  return { item, kind, ...resolveFields(chains, roots), recorded_at, author };
}

/**
 * The standing observations of a kind by what they are about, oldest first.
 * @param {object[]} entries
 * @param {string} kind
 * @returns {Map<string|null, {entry: string, visit: string|null, recorded_at: string, fields: object}[]>}
 */
export function observationsByItem(entries, kind) {
  const found = new Map();
  for (const { entry, original } of standing(resolveEntries(entries), kind)) {
    const about = entry.body.about ?? null;
    const seen = {
      entry: entry.id, visit: entry.visit ?? null, recorded_at: (original ?? entry).recorded_at ?? null,
      fields: entry.body.fields ?? {},
    };
    found.set(about, [...(found.get(about) ?? []), seen]);
  }
  return found;
}

/**
 * The standing observations of a kind about one item, oldest first.
 * @param {object[]} entries
 * @param {string} kind
 * @param {string|null} [about] null for those about the client
 * @returns {object[]}
 */
export const observations = (entries, kind, about = null) => observationsByItem(entries, kind).get(about) ?? [];

/**
 * What is wrong with a body; nothing when it may be recorded.
 * @param {string} kind
 * @param {object} body
 * @param {string} today the day it is recorded on
 * @returns {{field: string, code: string, message: string}[]}
 */
export function checkDescribed(kind, body, today) {
  const about = describedKinds[kind];
  const observed = about.shape === 'observation';
  const values = (observed ? body.fields : body.set) ?? {};
  const seen = Object.keys(body.seen ?? {}).length > 0;
  const whole = observed || !(about.shape === 'single' ? seen : body.item);
  if (Object.keys(values).length === 0 && !whole) return [problem('', 'nothing', {})];
  const known = [...about.fields.map((field) => field.id), 'ended'];
  const strange = Object.keys(values).filter((name) => !known.includes(name)).map((name) => problem(name, 'unknown_field', {}));
  const wrong = about.fields.map((field) => fieldProblem(field, values, whole, today));
  const ended = Object.hasOwn(values, 'ended') ? endedProblem(about, values.ended) : null;
  return [...strange, ...[...wrong, ended].filter(Boolean)];
}

function fieldProblem(field, values, whole, today) {
  if (!Object.hasOwn(values, field.id) && !whole) return null;
  const value = own(values, field.id) ?? null;
  if (value === null || value === '' || (Array.isArray(value) && value.length === 0)) {
    const code = ['choice', 'activity_code'].includes(field.type) ? 'required_choice' : 'required';
    const needed = field.required && (!field.for || field.for.includes(values.type));
    return needed ? problem(field.id, code, field) : null;
  }
  return CHECKS[field.type](field, value, today);
}

function text(field, value) {
  if (typeof value !== 'string') return problem(field.id, 'wrong_type', field);
  if (!value.trim()) return problem(field.id, 'required', field);
  // By code points, as Python counts.
  if ([...value].length > field.longest) return problem(field.id, 'too_long', { ...field, most: String(field.longest) });
  return null;
}

const choice = (field, value) =>
  fieldChoices(field).some(({ id }) => id === value) ? null : problem(field.id, 'unknown_choice', field);

const code = (field, value) =>
  data.activities.codes.some((each) => each.code === value) ? null : problem(field.id, 'unknown_code', field);

function day(field, value, today) {
  if (!isDay(value)) return problem(field.id, 'not_a_day', field);
  return field.future && value < today ? problem(field.id, 'past_day', field) : null;
}

function count(field, value) {
  if (typeof value !== 'string' || parseNumber(value, 0).value !== value) return problem(field.id, 'not_whole', field);
  return outside(field, value, { low: String(field.low), high: String(field.high), unit: '' });
}

function length(field, value) {
  const rules = data.described.lengths;
  const shape = isObject(value) && Object.keys(value).sort().join() === 'unit,value' && rules.units.includes(value.unit);
  if (!shape) return problem(field.id, 'wrong_type', field);
  const parsed = parseNumber(value.value, rules.decimals);
  if (parsed.error) return { field: field.id, code: parsed.error, message: parsed.message };
  if (parsed.value !== value.value) return problem(field.id, 'wrong_type', field);
  const { low, high } = rules.impossible;
  const limits = { low: convert(low, 'cm', value.unit), high: convert(high, 'cm', value.unit) };
  return outside(field, value.value, { ...limits, unit: unitLabel(value.unit) });
}

function outside(field, value, limits) {
  const fits = isDecimal(value) && toScaled(limits.low) <= toScaled(value) && toScaled(value) <= toScaled(limits.high);
  return fits ? null : problem(field.id, 'impossible', { ...field, ...limits });
}

const itemId = (field, value) => (typeof value === 'string' ? null : problem(field.id, 'wrong_type', field));

function measures(field, value) {
  const known = Array.isArray(value) && value.every((one) => data.index.measures.includes(one));
  return known ? null : problem(field.id, 'unknown_choice', field);
}

// What can be put off or left out: the id of a rule, with an item's own behind it where there are several.
const isKey = (value) => typeof value === 'string' && /^[a-z][a-z0-9_]{0,63}(:[0-9a-z-]{1,36})?$/.test(value);

const key = (field, value) => (isKey(value) ? null : problem(field.id, 'unknown_choice', field));

const rules = (field, value) => (Array.isArray(value) && value.every(isKey) ? null : problem(field.id, 'unknown_choice', field));

const CHECKS = { text, choice, activity_code: code, day, count, length, item: itemId, measures, key, rules };

// `ended` is null (it goes on) or says how, on which day, and what else.
function endedProblem(about, value) {
  const label = { label: about.title };
  if (value === null) return null;
  if (!isObject(value) || Object.keys(value).some((key) => !['how', 'day', 'note'].includes(key))) {
    return problem('ended', 'wrong_type', label);
  }
  if (!(about.ends ?? []).some(({ id }) => id === value.how)) return problem('ended', 'unknown_choice', label);
  if (!isDay(value.day)) return problem('ended', 'not_a_day', label);
  const note = value.note ?? null;
  const most = data.described.ended.longest_note;
  const fits = note === null || (typeof note === 'string' && [...note].length <= most);
  return fits ? null : problem('ended', 'too_long', { ...label, most: String(most) });
}

function problem(field, name, words) {
  const told = Object.fromEntries(Object.entries(words).filter(([, word]) => typeof word === 'string'));
  return { field, code: name, message: fill(data.described.messages[name], told) };
}
