// The messages of protocol 1: limits, and what counts as an answer. Mirrors sync/messages.py.

export {CanonicalError, canonical, entryHash} from './canonical.js';
export {millisecondsOf, uuid7} from './uuid7.js';

export const PROTOCOL = 1;
export const MAX_ITEMS = 500;
export const MAX_PUSH_BYTES = 512 * 1024;
export const MAX_FILLS = 200;
export const MAX_COVERED = 10_000;
const LONGEST_RECEIPT = 80;
export const VERDICTS = new Set(['applied', 'duplicate', 'clash', 'waiting', 'held', 'later']);

const isCount = (value) => Number.isSafeInteger(value) && value >= 0;
const isText = (value) => typeof value === 'string' && value !== '';
const isUuid = (value) => typeof value === 'string' && /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/.test(value);
const isObject = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);
const isNothing = (value, otherwise) => value === undefined || value === null || otherwise(value);
const isListOf = (value, test) => Array.isArray(value) && value.every(test);

/**
 * True for an answer of GET /api/v1/session.
 * @param {unknown} value
 */
export const isSession = (value) => isObject(value) && isText(value.csrf) && isText(value.user?.id)
  && isObject(value.organisation);

/** The entries that a request hands back, in the order of their verdicts. @param {object} request */
export const handedBack = ({returned = []}) => returned.flatMap(({entries}) => entries);

/**
 * True for a whole answer to so many items pushed and handed back; anything less is not an answer.
 * @param {any} value
 * @param {number} pushed
 * @param {number} [returned]
 */
export function isReply(value, pushed, returned = 0) {
  return isObject(value) && value.protocol === PROTOCOL && isUuid(value.epoch) && isCount(value.head)
    && isUuid(value.person) && isObject(value.settings) && typeof value.server_time === 'string'
    && isListOf(value.verdicts, isVerdict) && value.verdicts.length <= pushed
    // A server that does not know of handing back says nothing of it.
    && isNothing(value.returned, (list) => isListOf(list, isVerdict) && list.length <= returned)
    && isObject(value.pull) && isPulled(value.pull);
}

// "Stored" without its number is no word to forget an entry by.
const isVerdict = (value) => isObject(value) && (!['applied', 'duplicate'].includes(value.verdict) || isCount(value.seq))
  && ['id', 'code', 'field', 'message'].every((name) => typeof (value[name] ?? '') === 'string');

function isPulled(pull) {
  return isListOf(pull.entries, (entry) => isObject(entry) && isUuid(entry.id) && isCount(entry.seq))
    && isNothing(pull.receipt, (text) => typeof text === 'string' && text.length <= LONGEST_RECEIPT)
    && isCount(pull.after) && typeof pull.more === 'boolean'
    && (pull.caseload === null || isCaseload(pull.caseload))
    && isListOf(pull.fill, (item) => isObject(item) && isUuid(item.client) && isCount(item.after)
      && typeof item.more === 'boolean');
}

const isCaseload = (value) => isText(value?.version) && isListOf(value.clients, isUuid)
  && isNothing(value.read_only, (list) => isListOf(list, isUuid));

/**
 * True for an entry in the server's short form: one this device sent, named by its hash.
 * @param {object} entry
 */
export const isStub = (entry) => isText(entry.hash) && entry.kind === undefined;

/**
 * True for an entry the store can file, whatever its kind: one faulty item must not stop a page.
 * @param {object} entry
 */
export const isWhole = (entry) => isText(entry.kind) && isText(entry.client);
