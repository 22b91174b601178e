// Facts that are formulas, not tables: averages, arms, derived pressures, counted rates, signs.
import { cuffFor } from './cuffs.js';
import { isObject, own } from './data.js';
import { DERIVED } from './derived.js';
import { divideHalfUp, fromScaled, isDecimal, roundScaled, toScaled } from './decimals.js';
import { compared } from './moments.js';
import { listed, unitLabel } from './wording.js';

const ARMS = ['left', 'right'];

// Averages by arm, the arm that counts, the difference between the arms, pressures derived from them.
function bloodPressure(measure, body, facts, context) {
  const byArm = Object.fromEntries(ARMS.map((arm) => [arm, pairsOf(body, arm)]));
  const used = ARMS.filter((arm) => byArm[arm].length > 0);
  const found = { ...cuffFacts(facts), ...inflation(measure, facts) };
  if (used.length === 0) return found;
  const means = Object.fromEntries(used.map((arm) => [arm, meansOf(byArm[arm])]));
  const arm = used.reduce((best, next) => (higher(means[next], means[best]) ? next : best));
  const count = used.reduce((sum, name) => sum + byArm[name].length, 0);
  Object.assign(found, { arms_used: used, arm, readings_averaged: String(byArm[arm].length) });
  Object.assign(found, { readings_count: String(count) });
  return { ...found, ...armFacts(means), ...judgedFacts(means[arm]), ...spread(byArm, context) };
}

function pairsOf(body, arm) {
  const readings = own(body.fields, 'readings');
  const items = Array.isArray(readings) ? readings.filter(isObject) : [];
  return items
    .filter((item) => item.arm === arm && isDecimal(item.systolic) && isDecimal(item.diastolic))
    .map((item) => [toScaled(item.systolic), toScaled(item.diastolic)]);
}

const meansOf = (pairs) =>
  [0, 1].map((side) => divideHalfUp(pairs.reduce((sum, pair) => sum + pair[side], 0), pairs.length));

const higher = (one, other) => one[0] > other[0] || (one[0] === other[0] && one[1] > other[1]);

function armFacts(means) {
  const found = {};
  for (const [arm, [systolic, diastolic]] of Object.entries(means)) {
    found[`systolic_${arm}`] = fromScaled(roundScaled(systolic, 0));
    found[`diastolic_${arm}`] = fromScaled(roundScaled(diastolic, 0));
  }
  if (Object.keys(means).length === ARMS.length) {
    found.arm_difference = fromScaled(Math.abs(toScaled(found.systolic_left) - toScaled(found.systolic_right)));
  }
  return found;
}

function judgedFacts(mean) {
  const [systolic, diastolic] = mean.map((value) => roundScaled(value, 0));
  const arterial = divideHalfUp(systolic + 2 * diastolic, 3);
  return {
    systolic: fromScaled(systolic),
    diastolic: fromScaled(diastolic),
    systolic_unrounded: fromScaled(roundScaled(mean[0], 2)),
    diastolic_unrounded: fromScaled(roundScaled(mean[1], 2)),
    pulse_pressure: fromScaled(systolic - diastolic),
    mean_arterial_pressure: fromScaled(roundScaled(arterial, 0)),
    mean_arterial_pressure_unrounded: fromScaled(roundScaled(arterial, 2)),
  };
}

function spread(byArm, { precautions }) {
  // With three readings or more of an arm, the further one has been taken already; a barred arm gets none.
  const free = ARMS.filter((arm) => !precautions?.includes(`no_bp_${arm}_arm`));
  const twos = free.map((arm) => byArm[arm]).filter((pairs) => pairs.length === 2);
  const gaps = twos.flatMap(([first, second]) => [0, 1].map((side) => Math.abs(first[side] - second[side])));
  return gaps.length ? { spread_of_two: fromScaled(Math.max(...gaps)) } : {};
}

function cuffFacts(facts) {
  if (!('arm_circumference' in facts)) return {};
  const advised = cuffFor(facts.arm_circumference);
  if (advised === null) return { cuff_in_range: false };
  const found = { cuff_in_range: true, cuff_advised: advised };
  return 'cuff' in facts ? { ...found, cuff_matches: facts.cuff === advised } : found;
}

function inflation(measure, facts) {
  if (!('palpated_systolic' in facts)) return {};
  const margin = measure.parameters.inflate_above_estimate.value;
  return { inflate_to: fromScaled(toScaled(facts.palpated_systolic) + toScaled(margin)) };
}

// A rate a minute from a count; a typed rate stays as it is.
function counted(measure, body, facts) {
  const names = measure.counted;
  const field = measure.fields.find((item) => item.id === names.how);
  const way = field.choices.find((choice) => choice.id === facts[names.how]) ?? {};
  if (!('times' in way)) return {};
  if (!(names.count in facts)) return { [names.rate]: null };
  const rate = toScaled(facts[names.count]) * way.times;
  return { [names.rate]: fromScaled(rate), counted_seconds: String(way.seconds) };
}

// Whether the prescribed 88 to 92 scale is the one to judge by; unknown while precautions are.
function oxygenScale(measure, body, facts, context) {
  const { precautions } = context;
  return Array.isArray(precautions) ? { scale_2: precautions.includes('spo2_88_92_prescribed') } : {};
}

// The signs ticked, sorted by what they call for.
function warningSigns(measure, body, facts) {
  const ticked = facts.warning_signs;
  if (!ticked?.length) return {};
  const { choices } = measure.fields.find((field) => field.id === 'warning_signs');
  const signs = choices.filter((choice) => 'sign' in choice && ticked.includes(choice.id));
  const found = { any_sign: signs.length > 0 };
  for (const kind of ['red', 'stop', 'care']) {
    const matching = signs.filter((choice) => choice.sign === kind).map((choice) => choice.id);
    Object.assign(found, { [`${kind}_signs`]: matching, [`${kind}_count`]: String(matching.length) });
  }
  return found;
}

// How the client seems in a few words: the warning signs first, the gravest foremost.
function seems(measure, body, facts) {
  const choices = (id) => measure.fields.find((field) => field.id === id).choices;
  const short = new Map(choices('warning_signs').map((each) => [each.id, each.short ?? each.label.toLowerCase()]));
  const signs = ['red', 'stop', 'care'].flatMap((kind) => facts[`${kind}_signs`] ?? []).map((id) => short.get(id));
  const alertness = choices('consciousness').find((each) => each.id === facts.consciousness);
  const usual = alertness?.seems ?? alertness?.label.toLowerCase() ?? '';
  const awake = signs.length ? alertness?.seems_with_signs ?? usual : usual;
  const text = [listed(signs, measure.facts.seems.told), awake].filter(Boolean).join('; ');
  return text ? { seems: text } : {};
}

// Values as they were typed, with their unit; in brackets what they are judged as.
function asTyped(measure, body, facts) {
  const typed = Object.entries(measure.facts).filter(([, fact]) => Object.hasOwn(facts, fact.typed_from ?? ''));
  return Object.fromEntries(typed.map(([name, { typed_from: source }]) => {
    const { unit: usual } = measure.fields.find((field) => field.id === source);
    const unit = own(body.units, source) ?? usual;
    const judged = `${facts[source]} ${unitLabel(usual)}`;
    return [name, unit === usual ? judged : `${body.fields[source]} ${unitLabel(unit)} (${judged})`];
  }));
}

/** The formulas by the name a measure gives in "derive". */
export const FORMULAS = {
  blood_pressure: bloodPressure,
  counted,
  oxygen_scale: oxygenScale,
  warning_signs: warningSigns,
  seems,
  as_typed: asTyped,
  compared,
  ...DERIVED,
};
