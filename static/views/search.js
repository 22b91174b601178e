/** Finding a client by a few letters, whatever their accents. */

import {precautionOf} from './precaution_words.js';

/**
 * Whether every word asked for begins a word of the client's name, address or precautions.
 * @param {object} card  @param {string} asked
 */
export function matches(card, asked) {
  const words = wordsOf(asked);
  const parts = wordsOf([card.name, card.preferred_name, card.details?.address,
    ...card.precautions.flatMap((each) => [precautionOf(each.code).label, each.text])].filter(Boolean).join(' '));
  return words.every((word) => parts.some((part) => part.startsWith(word)));
}

// Letters that no decomposition takes apart, as people type them on another keyboard.
const PLAIN = {ł: 'l', ø: 'o', đ: 'd', ð: 'd', þ: 'th', ß: 'ss', æ: 'ae', œ: 'oe', ı: 'i'};

/** Not the browser's own lower case: a Turkish one would part "Iris" from "iris". */
function wordsOf(text) {
  const plain = text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase().replace(/[łøđðþßæœı]/g, (letter) => PLAIN[letter]);
  return plain.split(/[^\p{L}\p{N}]+/u).filter(Boolean);
}
