// When to try again. Pure: the random number is an argument.

const FIRST = 1000;
const LONGEST = 300_000;
const LONGEST_ASKED = 3600;

/**
 * Milliseconds until the next try: anywhere below 1 s doubled with every failure, at most 5 minutes
 * (so that phones which lost the server together do not return together). What the server asked
 * for is kept to, with a little spread.
 * @param {number} failures how many tries have failed in a row, at least 1
 * @param {{random: number, askedSeconds?: number|null}} options random in [0, 1)
 * @returns {number}
 */
export function delay(failures, {random, askedSeconds = null}) {
  if (askedSeconds !== null) {
    const asked = askedSeconds * 1000;
    return Math.round(asked + random * (FIRST + asked / 10));
  }
  return Math.round(random * Math.min(LONGEST, FIRST * 2 ** Math.min(failures, 20)));
}

/**
 * Seconds in a Retry-After header (a number or a date), at most an hour, or null.
 * @param {string|null} header
 * @param {number} now
 */
export function retryAfter(header, now) {
  if (!header) return null;
  if (/^\d{1,6}$/.test(header.trim())) return Math.min(Number(header), LONGEST_ASKED);
  const date = Date.parse(header);
  if (Number.isNaN(date)) return null;
  return Math.min(Math.max(0, Math.ceil((date - now) / 1000)), LONGEST_ASKED);
}
