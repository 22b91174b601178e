/** What can be put off has a key such as "goal_review:0192..."; in an address and in a draft's name the colon is a dot. */

/** @param {string} key @returns {string} */
export const keySegment = (key) => key.replace(':', '.');

/** @param {string} segment @returns {string} */
export const keyFrom = (segment) => segment.replace('.', ':');
