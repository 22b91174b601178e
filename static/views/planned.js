/** The visits planned for one day and one therapist, read from the client cards. */

/**
 * @param {object[]} cards client cards
 * @param {string} date YYYY-MM-DD
 * @param {string} therapist user id
 * @returns {{id: string, time: string, purpose: string, state: string, card: object}[]} by time
 */
export function plannedOn(cards, date, therapist) {
  return cards
    .flatMap((card) => card.visits
      .filter((visit) => visit.planned?.date === date && visit.planned.therapist === therapist)
      .map((visit) => ({id: visit.id, time: visit.planned.time, purpose: visit.planned.purpose, state: visit.state, card})))
    .sort((one, other) => (one.time < other.time ? -1 : 1));
}
