// One request and what came of it. Only JSON of the agreed shape is an answer: a café's sign-in
// page with status 200 is not.
import {retryAfter} from './backoff.js';
import {PROTOCOL, handedBack, isReply, isSession} from './messages.js';

const HEADERS_WITHIN = 20_000;
const WHOLE_WITHIN = 60_000;
const WORTH_PACKING = 1024;

/**
 * @typedef {object} Outcome
 * @property {'answer'|'sign_in'|'someone_else'|'forbidden'|'too_large'|'update'|'unpacked'|'refused'|'busy'|'timeout'|'unreachable'} kind
 * @property {object} [answer] the JSON, for kind "answer"
 * @property {string|null} [message] the server's sentence, where it gave one
 * @property {number|null} [askedSeconds] how long the server asked to wait
 */

/** Whether what was sent may be why, so that less of it is worth a try. @param {Outcome['kind']} kind */
export const lessMayHelp = (kind) => ['too_large', 'refused', 'timeout'].includes(kind);

/**
 * @param {{fetch: typeof fetch, now: () => number, timers: {setTimeout: Function, clearTimeout: Function}}} tools
 */
export function createExchange({fetch, now, timers}) {
  /** @returns {Promise<Outcome>} */
  async function ask(path, init, isAnswer) {
    const deadline = createDeadline(timers);
    try {
      const response = await fetch(path, {
        cache: 'no-store', credentials: 'same-origin', redirect: 'error', ...init, signal: deadline.signal,
      });
      deadline.headersCame();
      return outcomeOf(response, await jsonOf(response), {isAnswer, now: now()});
    } catch {
      return {kind: deadline.signal.aborted ? 'timeout' : 'unreachable'};
    } finally {
      deadline.clear();
    }
  }

  return {
    /** @returns {Promise<Outcome>} */
    session: () => ask('/api/v1/session', {headers: {Accept: 'application/json'}}, isSession),

    /**
     * @param {object} request
     * @param {{csrf: string, pack: boolean, person: string}} options person: who the answer must be meant for
     * @returns {Promise<Outcome>}
     */
    async sync(request, {csrf, pack, person}) {
      const {body, encoding} = await packed(JSON.stringify(request), pack);
      const headers = {'Content-Type': 'application/json', Accept: 'application/json', 'X-CSRFToken': csrf, ...encoding};
      const fits = (answer) => isReply(answer, request.push.length, handedBack(request).length);
      const outcome = await ask('/api/v1/sync', {method: 'POST', headers, body}, fits);
      // Another window may have signed somebody else in since: what is theirs is not filed here.
      return outcome.kind === 'answer' && outcome.answer.person !== person ? {kind: 'someone_else'} : outcome;
    },
  };
}

// The server must begin to answer soon; a slow line may take longer over the whole of it.
function createDeadline(timers) {
  const controller = new AbortController();
  const abort = () => controller.abort();
  let first = timers.setTimeout(abort, HEADERS_WITHIN);
  const whole = timers.setTimeout(abort, WHOLE_WITHIN);
  const headersCame = () => {
    timers.clearTimeout(first);
    first = null;
  };
  return {
    signal: controller.signal,
    headersCame,
    clear() {
      headersCame();
      timers.clearTimeout(whole);
    },
  };
}

async function jsonOf(response) {
  if (!/^application\/json\b/i.test(response.headers.get('content-type') ?? '')) return null;
  const text = await response.text();  // a cut line fails here, and is no answer
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

// By the error's code first, then by its status.
const BY_CODE = new Map([['csrf', 'forbidden'], ['bad_gzip', 'unpacked'], ['wrong_encoding', 'unpacked']]);
const BY_STATUS = {
  400: 'refused', 401: 'sign_in', 403: 'forbidden', 415: 'unpacked', 422: 'refused', 426: 'update', 500: 'refused',
};

function outcomeOf(response, json, {isAnswer, now}) {
  if (response.status === 200 && isAnswer(json)) return {kind: 'answer', answer: json};
  if (response.status === 200) return {kind: isOfOtherProtocol(json) ? 'update' : 'unreachable'};
  const told = isError(json);
  const facts = {
    message: told ? json.error.message : null,
    askedSeconds: retryAfter(response.headers.get('retry-after'), now),
  };
  if (response.status === 413) return {kind: 'too_large', ...facts};  // often said by a proxy, in HTML
  // Without our own error object it was somebody else's machine that answered.
  if (!told) return {kind: response.status >= 500 || response.status === 429 ? 'busy' : 'unreachable', ...facts};
  return {kind: BY_CODE.get(json.error.code) ?? BY_STATUS[response.status] ?? 'busy', ...facts};
}

// A server that has left this protocol answers in its own; no try will change that before an update.
const isOfOtherProtocol = (json) => Number.isSafeInteger(json?.protocol) && json.protocol !== PROTOCOL;

const isError = (json) => typeof json?.error?.code === 'string' && typeof json.error.message === 'string';

async function packed(text, pack) {
  const plain = new TextEncoder().encode(text);
  if (!pack || plain.length <= WORTH_PACKING || typeof CompressionStream !== 'function') {
    return {body: plain, encoding: {}};
  }
  const stream = new Blob([plain]).stream().pipeThrough(new CompressionStream('gzip'));
  return {body: new Uint8Array(await new Response(stream).arrayBuffer()), encoding: {'Content-Encoding': 'gzip'}};
}
