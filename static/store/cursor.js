// Where this device stands with the server, and how an answer moves it. Pure.

/**
 * @typedef {{epoch: string|null, after: number, caseload: {version: string, clients: string[]}|null,
 *   fill: {client: string, after: number}[], leaving: string[], sweep: boolean}} Cursor
 *   sweep: the log began anew and is not read to its end yet; then goes what it no longer has
 */

/** @type {Cursor} */
export const START = {epoch: null, after: 0, caseload: null, fill: [], leaving: [], sweep: false};

/**
 * True when the server answered from the beginning: it has another epoch (a restored backup), or
 * stands behind what this device has already seen.
 */
export const startedOver = (page) => page.epoch !== page.asked.epoch || page.head < page.asked.after;

/** True when this page is the first word of a log that began anew under a device that had read of it. */
export const beginsAnew = (cursor, page) => cursor.epoch !== null && startedOver(page) && cursor.epoch === page.asked.epoch;

/** True for an answer out of a life of the log that this device has left: it says nothing of the present one. */
export const ofAnotherLife = (cursor, page) => cursor.epoch !== page.asked.epoch && cursor.epoch !== page.epoch;

/**
 * The cursor after a page. A page that was asked for from another place than where the device
 * stands now (a second window was quicker, or a reset came between) moves nothing.
 * @param {Cursor} cursor
 * @param {{asked: {epoch: string|null, after: number, fill: {client: string, after: number}[]},
 *   epoch: string, head: number, after: number, more: boolean,
 *   caseload: {version: string, clients: string[]}|null, fill: {client: string, after: number, more: boolean}[],
 *   refill: string[]}} page
 * @param {{here: string[], unsent: Set<string>}} clients on this device, and those with unsent entries
 * @returns {Cursor}
 */
export function moved(cursor, page, clients) {
  if (ofAnotherLife(cursor, page)) return cursor;
  const from = startedOver(page) ? 0 : page.asked.after;
  const base = beginsAnew(cursor, page) ? {...START, epoch: page.epoch, sweep: true} : cursor;
  const joins = from <= base.after;
  const after = joins ? Math.max(base.after, page.after) : base.after;
  const caseload = page.caseload ?? base.caseload;
  const fill = fillAfter(base, page, {caseload, from});
  return {
    epoch: page.epoch,
    after,
    caseload,
    fill,
    leaving: caseload ? leavingAfter(base, caseload, clients) : base.leaving,
    sweep: Boolean(base.sweep) && !(joins && !page.more && fill.length === 0),
  };
}

function fillAfter(base, page, {caseload, from}) {
  const wanted = new Map(base.fill.map((item) => [item.client, item.after]));
  const begun = new Map(page.asked.fill.map((item) => [item.client, item.after]));
  for (const {client, after, more} of page.fill) {
    // A fill that began anew meanwhile lacks what lies before the place that was asked for.
    if (!wanted.has(client) || !(begun.get(client) <= wanted.get(client))) continue;
    if (more) wanted.set(client, Math.max(wanted.get(client), after));
    else wanted.delete(client);
  }
  for (const client of [...newcomers(base, page, from), ...page.refill]) wanted.set(client, 0);
  const entitled = caseload && new Set(caseload.clients);
  return [...wanted].filter(([client]) => !entitled || entitled.has(client)).map(([client, after]) => ({client, after}));
}

// From the very beginning the main stream brings everybody whole; later only what is new.
function newcomers(base, page, from) {
  if (!page.caseload || from === 0) return [];
  const before = new Set(base.caseload?.clients);
  return page.caseload.clients.filter((client) => !before.has(client));
}

function leavingAfter(base, caseload, {here, unsent}) {
  const entitled = new Set(caseload.clients);
  const before = new Set(base.caseload?.clients);
  // A client begun on this phone is in no caseload until the server has heard of it.
  return here.filter((client) => !entitled.has(client)
    && (before.has(client) || base.leaving.includes(client) || !unsent.has(client)));
}
