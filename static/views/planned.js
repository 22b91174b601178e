/** Visits as the screens need them: their state, and the round of one day. */

/** @param {object} visit of a client card @returns {'finished'|'started'|'planned'|'recorded'} */
export function visitState(visit) {
  if (visit.finished) return 'finished';
  if (visit.started) return 'started';
  return visit.measures.length > 0 ? 'recorded' : 'planned';
}

/**
 * The visits planned for one day and one therapist.
 * @param {object[]} cards client cards
 * @param {string} date YYYY-MM-DD
 * @param {string} therapist user id
 * @returns {{id: string, time: string, purpose: string, state: string, card: object}[]} by time
 */
export function plannedOn(cards, date, therapist) {
  return cards
    .flatMap((card) => card.visits.filter((visit) => isPlanned(visit, date, therapist)).map((visit) => ({
      id: visit.visit, time: visit.planned.body.time, purpose: visit.planned.body.purpose, state: visitState(visit), card})))
    .sort((one, other) => (one.time < other.time ? -1 : 1));
}

/** Whether a visit is planned for that day, by that therapist. */
export function isPlanned(visit, date, therapist) {
  const plan = visit.planned?.body;
  return plan?.date === date && (therapist === undefined || plan.therapist === therapist);
}
