// Times read off the clock: what is left, what has passed, and how it is written.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {inTenths, minutesAndSeconds, secondsLeft, secondsSince} from '../../../static/views/forms/clock.js';
import {lastReading, lastWords} from '../../../static/views/last_time.js';
import {corrected, entry, takenBack} from './helpers.mjs';

test('what is left is counted from the start, and never more than the whole or less than nothing', () => {
  const start = 1_000_000;
  assert.equal(secondsLeft(start, 300, start), 300);
  assert.equal(secondsLeft(start, 300, start + 1), 300);
  assert.equal(secondsLeft(start, 300, start + 1000), 299);
  assert.equal(secondsLeft(start, 300, start + 299_999), 1);
  assert.equal(secondsLeft(start, 300, start + 300_000), 0);
  assert.equal(secondsLeft(start, 300, start + 86_400_000), 0);
  assert.equal(secondsLeft(start, 300, start - 60_000), 300);
});

test('what has passed is whole seconds; a clock set back gives none', () => {
  assert.deepEqual([0, 999, 1000, 61_500, -5000].map((passed) => secondsSince(7, 7 + passed)), [0, 0, 1, 61, 0]);
});

test('a stopwatch is entered to a tenth, without needless zeros', () => {
  assert.deepEqual([0, 49, 50, 12_000, 12_440, 12_450, 61_030, -5].map(inTenths), ['0', '0', '0.1', '12', '12.4', '12.5', '61', '0']);
});

test('minutes and seconds', () => {
  assert.deepEqual([0, 9, 60, 245, 600].map(minutesAndSeconds), ['0:00', '0:09', '1:00', '4:05', '10:00']);
});

const walked = (seconds, visit, more) => entry('timed_up_and_go', {fields: {aid: 'stick', seconds, ended: 'finished'}}, {visit, ...more});

test('the last time is the newest that stands, of another visit', () => {
  const first = walked('14', 'v1');
  const second = walked('13', 'v2');
  const third = walked('12', 'v3');
  assert.equal(lastReading([first, second], 'timed_up_and_go', 'v2').id, first.id);
  assert.equal(lastReading([first, second], 'timed_up_and_go', 'v3').id, second.id);
  assert.equal(lastReading([first, second, third, takenBack(third)], 'timed_up_and_go', 'v4').id, second.id);
  const mended = corrected(second, {...second.body, fields: {...second.body.fields, seconds: '13.5'}});
  assert.equal(lastReading([first, second, mended], 'timed_up_and_go', 'v3').body.fields.seconds, '13.5');
  assert.equal(lastReading([], 'timed_up_and_go', 'v1'), null);
});

test('the last time in words, by field; nothing where there is none', () => {
  const words = lastWords(walked('13.5', 'v1'), {});
  assert.match(words.seconds, /^Last time: 13\.5 s, /);
  assert.match(words.aid, /^Last time: stick or crutch, /);
  assert.deepEqual(lastWords(null, {}), {});
});
