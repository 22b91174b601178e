// What a change of caseload solves: what was held because its author could not record about its client.
// Mirrors sync/caseloads.py.

const OF_THE_CASELOAD = ['not_found', 'read_only'];

/** Whether something is held for a reason that a caseload may end. @param {{code?: string|null}} verdict */
export const isOfTheCaseload = ({code}) => OF_THE_CASELOAD.includes(code);

/**
 * Whether such a reason ended with the caseload that a device has `now`, after an answer.
 *
 * `asked` is the version that the request named. While it is the present one nothing has changed since: what is held
 * stays held, or it would go again and again. A request under way may have been judged by a former one, and its answer
 * come after that which told the present one.
 * @param {string} client
 * @param {string|null} asked
 * @param {{version: string, clients: string[], read_only?: string[]|null}|null} now
 */
export const isSolved = (client, asked, now) => now !== null && now.version !== asked
  && now.clients.includes(client) && !now.read_only?.includes(client);
