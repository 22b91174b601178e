// A small question to the server outside of sync: who is signed in brings the token, the answer is JSON.
const WITHIN = 20_000;
const OFFLINE = 'The server cannot be reached. This needs a connection.';

/**
 * @typedef {object} Told
 * @property {boolean} ok
 * @property {object|null} answer
 * @property {string} message a plain sentence when it is not ok
 * @property {string|null} field the field it is about
 */

/**
 * @param {string} path
 * @param {{body?: object, fetch?: typeof fetch}} [options] with a body it is a POST
 * @returns {Promise<Told>}
 */
export async function ask(path, {body, fetch = globalThis.fetch.bind(globalThis)} = {}) {
  if (body === undefined) return told(await send(fetch, path, {}));
  const session = told(await send(fetch, '/api/v1/session', {}));
  if (!session.ok) return session;
  const headers = {'Content-Type': 'application/json', 'X-CSRFToken': session.answer.csrf};
  return told(await send(fetch, path, {method: 'POST', headers, body: JSON.stringify(body)}));
}

async function send(fetch, path, options) {
  try {
    const response = await fetch(path, {
      cache: 'no-store', credentials: 'same-origin', redirect: 'error', ...options, signal: AbortSignal.timeout(WITHIN),
    });
    return {status: response.status, json: await response.json()};
  } catch {
    return null;  // no line, or somebody else's page
  }
}

function told(reply) {
  if (reply?.status === 200 && typeof reply.json === 'object') return {ok: true, answer: reply.json, message: '', field: null};
  const {message, field} = reply?.json?.error ?? {};
  return {ok: false, answer: null, message: message ?? OFFLINE, field: field ?? null};
}
