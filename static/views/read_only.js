/** Records a person reads and does not write in: a lead's, of clients in the caseloads of their team. */

/** @param {object} store @param {string} client */
export const isReadOnly = async (store, client) => (await store.cursor()).caseload?.read_only?.includes(client) ?? false;
