/** What is typed into a described form, and the body it becomes. No screen here. */
import {checkDescribed, describedKinds, parseNumber} from '../../clinical/index.js';

const LISTS = new Set(['measures', 'rules']);

/** Which fields a form shows: some belong to one type of place only. @param {string} kind @param {object} raw */
export function shownFields(kind, raw) {
  return describedKinds[kind].fields.filter((field) => !field.for || field.for.includes(raw.type));
}

/** What a form begins with: a standing item's fields, or nothing. @param {string} kind @param {object} [fields] */
export function rawFrom(kind, fields = {}) {
  const raw = {};
  for (const {id, type} of describedKinds[kind].fields) {
    const value = fields[id] ?? null;
    if (type === 'length') raw[id] = value ?? {value: '', unit: 'cm'};
    else if (LISTS.has(type)) raw[id] = value ?? [];
    else raw[id] = value ?? '';
  }
  return raw;
}

/**
 * The body of a new observation, a new item or a change of one, with what is wrong in it.
 * @param {string} kind  @param {object} raw as typed
 * @param {{item?: object|null, about?: string|null, today: string}} place `item` as it stands, when it is changed
 * @returns {{body: object, errors: {field: string, code: string, message: string}[]}}
 */
export function bodyFrom(kind, raw, {item = null, about = null, today}) {
  const shown = shownFields(kind, raw);
  const read = shown.map((field) => ({field, ...valueOf(field, raw[field.id])}));
  const unread = read.filter(({message}) => message).map(({field, error, message}) => ({field: field.id, code: error, message}));
  const values = Object.fromEntries(read.map(({field, value}) => [field.id, value ?? null]));
  const body = describedKinds[kind].shape === 'observation' ? {about, fields: filled(values)} : itemBody(kind, values, item);
  const told = new Set(unread.map(({field}) => field));
  const wrong = checkDescribed(kind, body, today).filter(({field}) => !told.has(field));
  return {body, errors: inOrder(shown, unread.length ? [...unread, ...wrong.filter(({code}) => code !== 'nothing')] : wrong)};
}

/** The change of an item that names what its author had seen. @param {string} kind @param {object} set @param {object|null} item */
export function changeOf(kind, set, item) {
  const single = describedKinds[kind].shape === 'single';
  // There is no id to say that a single one stands already: what was seen of its other fields says so.
  const names = single ? Object.keys(item?.seen ?? {}) : Object.keys(set);
  const seen = Object.fromEntries(names.filter((id) => item?.seen[id]?.length).map((id) => [id, item.seen[id]]));
  return {item: single ? null : item?.item ?? null, set, seen};
}

function itemBody(kind, values, item) {
  const was = item?.fields ?? {};
  const set = Object.entries(values).filter(([id, value]) => !alike(value, was[id] ?? null));
  return changeOf(kind, Object.fromEntries(set), item);
}

const filled = (values) => Object.fromEntries(Object.entries(values).filter(([, value]) => value !== null));

function alike(one, other) {
  if (one === null || other === null || typeof one !== 'object') return one === other;
  return Array.isArray(one) ? [...one].sort().join() === [...other].sort().join() : one.value === other.value && one.unit === other.unit;
}

function valueOf({type}, raw) {
  if (LISTS.has(type)) return {value: raw.length ? raw : null};
  if (type === 'length') return lengthOf(raw);
  const text = String(raw ?? '').trim();
  if (!text) return {value: null};
  return type === 'count' ? parseNumber(text, 0) : {value: text};
}

function lengthOf({value, unit}) {
  if (!value.trim()) return {value: null};
  const parsed = parseNumber(value, 1);
  return parsed.value === undefined ? parsed : {value: {value: parsed.value, unit}};
}

function inOrder(fields, errors) {
  const place = ({field}) => fields.findIndex(({id}) => id === field);
  return [...errors].sort((one, other) => place(one) - place(other));
}

/** Under which unfinished input is kept: opaque ids only, the client's in front, so that it goes with the client. */
export const draftKey = ({kind, client, visit, item}) => `${client}/described:${visit ?? client}:${kind}:${item ?? 'new'}`;

/** What is kept of a field while it is typed: the value, and what stood and was seen when typing began. */
export const draftOf = (item, id, value) => ({value, was: item?.fields[id] ?? null, seen: item?.seen[id] ?? []});

/** The raw values of a draft. @param {Object<string, {value: unknown}>} kept */
export const valuesOf = (kept) => Object.fromEntries(Object.entries(kept).map(([id, {value}]) => [id, value]));

/** The item as it stood for the fields of a draft: a change that came since then was not seen by who typed. */
export function withDraft(item, kept) {
  const of = (name) => Object.fromEntries(Object.entries(kept).map(([id, each]) => [id, each[name]]));
  return {...item, fields: {...item.fields, ...of('was')}, seen: {...item.seen, ...of('seen')}};
}

/** What is begun and not saved among the kinds of a section: [{kind, item}], item null for a new one. @param {string[]} keys */
export function begunIn(keys, {client, visit}, kinds) {
  const start = `${client}/described:${visit ?? client}:`;
  return keys.filter((key) => key.startsWith(start)).map((key) => key.slice(start.length).split(':'))
    .filter(([kind]) => kinds.includes(kind)).map(([kind, item]) => ({kind, item: item === 'new' ? null : item}));
}
