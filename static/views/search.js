/** Finding a client by a few letters, whatever their accents. */

import {precautions} from '../clinical/index.js';

/**
 * Whether every word asked for begins a word of the client's name, address or precautions.
 * @param {object} card  @param {string} asked
 */
export function matches(card, asked) {
  const words = wordsOf(asked);
  const parts = wordsOf([card.name, card.preferred_name, card.details?.address,
    ...card.precautions.map((each) => `${precautions[each.code]?.label} ${each.text}`)].filter(Boolean).join(' '));
  return words.every((word) => parts.some((part) => part.startsWith(word)));
}

function wordsOf(text) {
  return text.normalize('NFD').replace(/\p{M}/gu, '').toLocaleLowerCase().split(/[^\p{L}\p{N}]+/u).filter(Boolean);
}
