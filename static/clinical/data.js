import activities from './activities.json' with { type: 'json' };
import baseline from './baseline.json' with { type: 'json' };
import conclusions from './conclusions.json' with { type: 'json' };
import cuffs from './cuffs.json' with { type: 'json' };
import described from './described.json' with { type: 'json' };
import earlyWarning from './early_warning.json' with { type: 'json' };
import goals from './goals.json' with { type: 'json' };
import home from './home.json' with { type: 'json' };
import index from './index.json' with { type: 'json' };
import lastTime from './last_time.json' with { type: 'json' };
import activityTolerance from './measures/activity_tolerance.json' with { type: 'json' };
import bloodPressure from './measures/blood_pressure.json' with { type: 'json' };
import oxygenSaturation from './measures/oxygen_saturation.json' with { type: 'json' };
import posturalBloodPressure from './measures/postural_blood_pressure.json' with { type: 'json' };
import presentation from './measures/presentation.json' with { type: 'json' };
import pulse from './measures/pulse.json' with { type: 'json' };
import respiration from './measures/respiration.json' with { type: 'json' };
import temperature from './measures/temperature.json' with { type: 'json' };
import balanceStages from './measures/balance_stages.json' with { type: 'json' };
import chairStand from './measures/chair_stand.json' with { type: 'json' };
import gripStrength from './measures/grip_strength.json' with { type: 'json' };
import timedUpAndGo from './measures/timed_up_and_go.json' with { type: 'json' };
import walkingSpeed from './measures/walking_speed.json' with { type: 'json' };
import messages from './messages.json' with { type: 'json' };
import precautions from './precautions.json' with { type: 'json' };
import reassessment from './reassessment.json' with { type: 'json' };
import reasons from './reasons.json' with { type: 'json' };
import sources from './sources.json' with { type: 'json' };
import targets from './targets.json' with { type: 'json' };
import { spread } from './spread.js';
import units from './units.json' with { type: 'json' };
import visit from './visit.json' with { type: 'json' };

/** The clinical data, as Python's webapp/clinical/load.py reads and checks it. */
export const data = {
  index, sources, units, messages, reasons, precautions, cuffs, conclusions, targets, baseline, visit,
  early_warning: earlyWarning, last_time: lastTime, activities, described, goals, home, reassessment,
  measures: Object.fromEntries([
    presentation, bloodPressure, pulse, respiration, temperature, oxygenSaturation, posturalBloodPressure,
    activityTolerance, timedUpAndGo, chairStand, balanceStages, walkingSpeed, gripStrength,
  ].map((measure) => [measure.id, spread(measure)])),
};

/**
 * The measure of that id; undefined when there is none.
 * @param {string} id
 * @returns {object|undefined}
 */
export const measureOf = (id) => own(data.measures, id);

/**
 * A key of the object itself, never one it inherits ("constructor" is no measure).
 * @param {unknown} object
 * @param {unknown} key
 * @returns {any}
 */
export function own(object, key) {
  const plain = typeof object === 'object' && object !== null && typeof key === 'string';
  return plain && Object.hasOwn(object, key) ? object[key] : undefined;
}

/**
 * Whether a value is a plain object.
 * @param {unknown} value
 * @returns {boolean}
 */
export const isObject = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);
