// The rules of reassessment in force for a client: the service's, those added or left out, the client's own.
import { data, own } from './data.js';
import { fill } from './wording.js';

const CLOCKS = ['runs_on', 'stops'];
const MOVES = ['earlier', 'later', 'never'];
// The numbers a type of rule cannot do without.
const NEEDS = {
  every_days: ['days'], period: ['days', 'window'], after_visits: ['visits'], written_day: ['before'],
  when_changed: ['days'], after_pause: ['days'],
};

/**
 * The built-in rules and the service's by id; the service's own stands in place of a built-in one.
 * @param {{rules?: object[]}|null} [service]
 * @returns {Map<string, object>}
 */
export const knownRules = (service) => new Map([...data.reassessment.rules, ...(service?.rules ?? [])].map((rule) => [rule.id, rule]));

/**
 * The rules that hold for a client, in their order; ids this version does not know are passed over.
 * @param {{in_force?: string[], rules?: object[]}|null|undefined} service
 * @param {object} facts as careFacts gives them
 * @returns {object[]}
 */
export function rulesInForce(service, facts) {
  const { added, left_out: leftOut } = facts.client_rules;
  const chosen = [...(service?.in_force ?? data.reassessment.in_force), ...(added ?? [])].filter((id) => !(leftOut ?? []).includes(id));
  const bad = unread(service);
  const known = [...knownRules(service)].filter(([id, rule]) => chosen.includes(id) && !bad.includes(rule)).map(([, rule]) => rule);
  return [...known, ...facts.own_rules.filter(numberOf).map(ownRule)];
}

// The service's rules that a newer version made: they must neither be misread nor stop the others.
// A source not known yet changes no date, and a way of moving not known is moving earlier: those are read.
const unread = (service) => (service?.rules ?? []).filter((rule) => checkRule(rule).some(({ field }) => matters(rule, field)));
const matters = (rule, field) => !['source', 'moves'].includes(field) || typeof rule[field] !== 'string';

/**
 * The service's and the client's own rules that cannot be counted, as sentences.
 * @param {{rules?: object[]}|null|undefined} service
 * @param {object} facts as careFacts gives them
 * @returns {string[]}
 */
export function unusableRules(service, facts) {
  const { newer, unusable } = data.reassessment.messages;
  const told = unread(service).map(({ title }) => fill(newer, { title: title || '' }));
  return [...told, ...facts.own_rules.filter((fields) => !numberOf(fields)).map(({ name }) => fill(unusable, { title: name || '' }))];
}

const NUMBER = { every_days: 'days', before_end: 'days', after_visits: 'visits' };

function numberOf(fields) {
  const value = own(fields, own(NUMBER, fields.type));
  return typeof value === 'string' && /^[1-9][0-9]{0,3}$/.test(value) ? Number(value) : null;
}

/**
 * A rule written for one client, in the shape of the others; null while it lacks its number.
 * @param {object} fields of a reassessment_rule, with its item
 * @returns {object|null}
 */
export const clientsRule = (fields) => (numberOf(fields) ? ownRule(fields) : null);

function ownRule(fields) {
  const { opens, ...same } = data.reassessment.own_rule;
  const rule = { id: `own:${fields.item}`, title: fields.name ?? null, note: fields.why ?? null, ...same };
  const number = numberOf(fields);
  if (fields.type === 'after_visits') return { ...rule, type: 'after_visits', visits: number, opens: opens.visits, moves: 'never' };
  const days = { ...rule, opens: opens.days };
  if (fields.type === 'before_end') return { ...days, type: 'written_day', kind: 'care_period', field: 'ends_on', before: number };
  return { ...days, type: 'every_days', days: number };
}

/**
 * What is wrong with a rule of a service; nothing when it can be put in force.
 * @param {object} rule
 * @returns {{field: string, message: string}[]}
 */
export const checkRule = (rule) => [...naming(rule), ...numbers(rule), ...ways(rule)];

function naming({ id, title, type, source }) {
  const found = [];
  if (typeof id !== 'string' || !/^[a-z][a-z0-9_]{0,63}$/.test(id)) found.push(problem('id', 'id'));
  if (typeof title !== 'string' || !title.trim() || [...title].length > 200) found.push(problem('title', 'title'));
  if (!own(NEEDS, type)) found.push(problem('type', 'type'));
  if (!own(data.sources, source)) found.push(problem('source', 'origin'));
  return found;
}

function numbers(rule) {
  const needed = own(NEEDS, rule.type) ?? [];
  return Object.entries(data.reassessment.numbers).flatMap(([name, { low, high }]) => {
    const value = rule[name] ?? null;
    if (value === null && !needed.includes(name)) return [];
    return Number.isInteger(value) && low <= value && value <= high ? [] : [problem(name, 'number', { low: String(low), high: String(high) })];
  });
}

function ways(rule) {
  const found = [];
  const known = data.reassessment.done_by.map(({ id }) => id);
  const done = Array.isArray(rule.done_by) && rule.done_by.every((each) => known.includes(each));
  if (!done || (!rule.done_by.length && rule.type !== 'written_day')) found.push(problem('done_by', 'done_by'));
  if (!CLOCKS.includes(rule.clock) || typeof rule.legal !== 'boolean') found.push(problem('clock', 'clock'));
  if (!MOVES.includes(rule.moves)) found.push(problem('moves', 'moves'));
  else if (rule.moves === 'later' && rule.legal === true) found.push(problem('moves', 'legal_later'));
  if (rule.type === 'when_changed' && !someOf(rule.changes, data.reassessment.change_kinds)) found.push(problem('changes', 'changes'));
  if (rule.type === 'written_day' && !writtenFields().includes(`${rule.kind}.${rule.field}`)) found.push(problem('field', 'day_of'));
  return found;
}

const someOf = (value, known) => Array.isArray(value) && value.length > 0 && value.every((each) => known.includes(each));

const writtenFields = () => data.reassessment.rules.filter(({ type }) => type === 'written_day').map(({ kind, field }) => `${kind}.${field}`);

const problem = (field, code, words = {}) => ({ field, message: fill(data.reassessment.messages[code], words) });
