// Numbers as people type them, turned into canonical decimal text.
import { fromScaled, MAX_DIGITS, SCALE_DIGITS, toScaled } from './decimals.js';
import { message } from './wording.js';

const DIGITS = new Map(['٠١٢٣٤٥٦٧٨٩', '۰۱۲۳۴۵۶۷۸۹'].flatMap((row) => [...row].map((digit, value) => [digit, String(value)])));
const SIGNS = new Map([[',', '.'], ['٫', '.'], ['−', '-']]);
const NUMBER = /^(-?)0*([0-9]*)(?:\.([0-9]+))?$/;
const SPACE = /^[ \t\r\n\u00a0]+|[ \t\r\n\u00a0]+$/g;

/**
 * {value: canonical text} or {error: code, message: sentence}.
 * @param {unknown} text
 * @param {number} decimals
 * @returns {{value: string}|{error: string, message: string}}
 */
export function parseNumber(text, decimals) {
  const typed = typeof text === 'string' ? exchange(text.replace(SPACE, ''), DIGITS) : '';
  // "1,250" is a thousand to some and one and a quarter to others: never guess.
  if (/,[0-9]{3}$/.test(typed)) return failed('ambiguous', decimals);
  const plain = exchange(typed, SIGNS);
  const match = NUMBER.exec(plain);
  if (!match || !/[0-9]/.test(plain)) return failed('not_a_number', decimals);
  const [sign, whole, part] = [match[1], match[2] || '0', (match[3] ?? '').replace(/0+$/, '')];
  if (whole.length > MAX_DIGITS) return failed('too_long', decimals);
  if (part.length > Math.min(decimals, SCALE_DIGITS)) return failed('too_many_decimals', decimals);
  return { value: fromScaled(toScaled(`${sign}${whole}${part ? '.' : ''}${part}`)) };
}

const exchange = (text, table) => [...text].map((sign) => table.get(sign) ?? sign).join('');

function failed(code, decimals) {
  const sentence = code === 'too_many_decimals' && !decimals ? 'whole_number' : code;
  const example = decimals ? '36.8' : '72';
  return { error: code, message: message(sentence, { example, decimals: String(decimals) }) };
}
