// The sections of a visit: which measures each holds, and which of them count for a complete visit.
import { data } from './data.js';

/** The sections in the order of the visit's screen. */
export const sections = data.visit.sections;

const counting = new Set(sections.filter((section) => section.counts).map((section) => section.id));

/**
 * Whether a visit is only complete, and its conclusion only whole, with this measure.
 * @param {string} measureId
 * @returns {boolean}
 */
export const counts = (measureId) => counting.has(data.measures[measureId].section);
