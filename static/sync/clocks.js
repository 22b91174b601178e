// Whose clock was wrong, of an entry that lay too far ahead of the server's: told once the two agree. Mirrors sync/clocks.py.

const LONGEST_AHEAD = 24 * 60 * 60 * 1000;
const OWN_CLOCK = 'The clocks agree now, and this still lies ahead of them: the date of this device was wrong when it was '
  + 'recorded. Record it again with the right time, then withdraw this one.';

/**
 * A verdict that an answer finds on a device whose clock says `now`; null when its reason has ended.
 *
 * While the clocks differ nobody can tell which is wrong, and nothing changes. Once they agree, what does not lie
 * ahead any more did so by the server's fault and is sent again; of the rest the date is wrong, and waiting until
 * it comes would put it into the record as it is.
 * @template {{code?: string|null, field?: string|null, message?: string|null}} Verdict
 * @param {Verdict} verdict
 * @param {number} recorded
 * @param {string} serverTime
 * @param {number} now
 * @returns {Verdict|null}
 */
export function lookedAtAgain(verdict, recorded, serverTime, now) {
  const server = Date.parse(serverTime);
  if (verdict.code !== 'future_date' || verdict.field !== 'recorded_at' || Number.isNaN(server) || Number.isNaN(recorded)
    || Math.abs(now - server) > LONGEST_AHEAD) return verdict;
  return recorded - server <= LONGEST_AHEAD ? null : {...verdict, code: 'own_clock', message: OWN_CLOCK};
}
