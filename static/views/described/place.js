/** Where a described screen stands: in a visit, where it is recorded, or at the client, where it is read. */

/**
 * @param {{client: string, visit?: string}} params
 * @returns {{base: string, back: {path: string, name: string}, visit: string|null}}
 */
export function placeOf({client, visit}) {
  const base = visit ? `/app/client/${client}/visit/${visit}` : `/app/client/${client}`;
  return {base, back: {path: base, name: visit ? 'Visit' : 'Client'}, visit: visit ?? null};
}

/** The path segment of a section. @param {string} section */
export const segment = (section) => section.replace('_', '-');
