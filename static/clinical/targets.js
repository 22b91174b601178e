// The client's own targets: within, below, above, and what being within changes.
import { data, own } from './data.js';
import { isDecimal, toScaled } from './decimals.js';
import { factLabel, fill, NOT_RECORDED, unitWords } from './wording.js';

/**
 * One finding for every target of this measure whose field was measured.
 * @param {object} measure
 * @param {object} facts
 * @param {object} context
 * @returns {object[]}
 */
export const targetFindings = (measure, facts, context) =>
  targetsOf(measure, facts, context).map((target) => findingOf(measure, target, facts));

/**
 * The client's targets that this reading can be held against.
 * @param {object} measure
 * @param {object} facts
 * @param {object} context
 * @returns {object[]}
 */
export function targetsOf(measure, facts, context) {
  const targets = Array.isArray(context.targets) ? context.targets : [];
  return targets.filter((target) =>
    target.measure === measure.id
    && own(measure.facts, target.field)?.target
    && isDecimal(own(facts, target.field))
    && (isDecimal(target.low) || isDecimal(target.high)));
}

/**
 * Where a value stands: within, below or above.
 * @param {object} target
 * @param {string} value
 * @returns {'within'|'below'|'above'}
 */
export function place(target, value) {
  const scaled = toScaled(value);
  if (isDecimal(target.low) && scaled < toScaled(target.low)) return 'below';
  if (isDecimal(target.high) && scaled > toScaled(target.high)) return 'above';
  return 'within';
}

/**
 * The fields that have targets and are inside every one of them, each with one of its targets.
 * @param {object} measure
 * @param {object} facts
 * @param {object} context
 * @returns {Map<string, object>}
 */
export function insideTargets(measure, facts, context) {
  const targets = targetsOf(measure, facts, context);
  const outside = targets.filter((target) => place(target, facts[target.field]) !== 'within');
  const fields = new Set(outside.map((target) => target.field));
  return new Map(targets.filter((target) => !fields.has(target.field)).map((target) => [target.field, target]));
}

/**
 * The finding lowered to go on, with the reason.
 * @param {object} measure
 * @param {object} found
 * @param {Map<string, object>} inside
 * @returns {object}
 */
export function softened(measure, found, inside) {
  const reasons = [...inside.values()].map((target) => fill(data.targets.softened, wordsOf(measure, target)));
  return { ...found, level: 'go_on', because: found.because + reasons.join(''), softened_from: found.level };
}

function findingOf(measure, target, facts) {
  const where = place(target, facts[target.field]);
  const text = data.targets[where];
  const words = { ...wordsOf(measure, target), value: facts[target.field] };
  return {
    rule: `${measure.id}.target.${target.field}.${where}`,
    against: 'target',
    level: text.level,
    word: text.word,
    because: fill(text.because, words),
    source: data.targets.source,
    plain: text.plain,
    scale: { field: target.field, low: target.low ?? null, high: target.high ?? null },
  };
}

function wordsOf(measure, target) {
  const unit = unitWords(measure.facts[target.field].unit);
  const ends = ['low', 'high'].filter((end) => isDecimal(target[end]));
  const template = data.targets.ranges[ends.length === 2 ? 'both' : ends[0]];
  return {
    label: factLabel(measure, target.field),
    unit,
    range: fill(template, { low: target.low || '', high: target.high || '', unit }),
    set_by: (target.set_by ?? '').replace(/[ .]+$/, '') || NOT_RECORDED,
  };
}
