// The messages of protocol 1: limits, and what counts as an answer. Mirrors sync/messages.py.

export {CanonicalError, canonical, entryHash} from './canonical.js';
export {millisecondsOf, uuid7} from './uuid7.js';

export const PROTOCOL = 1;
export const MAX_ITEMS = 200;
export const MAX_PUSH_BYTES = 256 * 1024;
export const MAX_FILLS = 200;
export const VERDICTS = new Set(['applied', 'duplicate', 'clash', 'waiting', 'held', 'later']);
