// What is asked at each of several moments, written once in the data and spread out to one field a moment.

const PARTS = ['fields', 'checks', 'rules'];

/**
 * The measure with every {"at_each", "items"} of its fields, checks and rules written out.
 * In the texts of an item "{at}" becomes the moment's id and "{when}" its words. Fields come in the order
 * of their groups, so that a form asks for all of one moment before the next.
 * @param {object} measure
 * @returns {object}
 */
export function spread(measure) {
  if (!('moments' in measure)) return measure;
  const moments = new Map(measure.moments.map((moment) => [moment.id, moment]));
  const written = PARTS.map((part) => [part, measure[part].flatMap((item) => writtenOut(item, moments))]);
  const groups = measure.groups.map((group) => group.id);
  const spreadOut = { ...measure, ...Object.fromEntries(written) };
  spreadOut.fields.sort((one, other) => groups.indexOf(one.group) - groups.indexOf(other.group));
  return spreadOut;
}

function writtenOut(item, moments) {
  if (!('at_each' in item)) return [item];
  return item.at_each.flatMap((at) => item.items.map((part) => put(part, at, moments.get(at).when)));
}

function put(value, at, when) {
  if (typeof value === 'string') return value.replaceAll('{at}', at).replaceAll('{when}', when);
  if (Array.isArray(value)) return value.map((part) => put(part, at, when));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, put(part, at, when)]));
}
