/** Finding a client by a few letters, whatever their accents. */

import {precautions} from '../clinical/index.js';

/**
 * Whether every word asked for begins a word of the client's name, address or precautions.
 * @param {object} card  @param {string} asked
 */
export function matches(card, asked) {
  const words = fold(asked).split(/\s+/).filter(Boolean);
  const text = fold([card.name, card.preferred_name, card.details?.address,
    ...card.precautions.map((each) => `${precautions[each.code]?.label} ${each.text}`)].filter(Boolean).join(' '));
  return words.every((word) => text.split(/[\s,.;()-]+/).some((part) => part.startsWith(word)));
}

function fold(text) {
  return text.normalize('NFD').replace(/\p{M}/gu, '').toLocaleLowerCase();
}
