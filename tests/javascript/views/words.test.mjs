// Dates, counts and the state of sync, as the screens say them.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {clockWords} from '../../../static/views/clock_note.js';
import {localDate, sayClock, sayCount, sayDate, sayMoment, sayTime} from '../../../static/views/format.js';
import {lackingElsewhere, lackingWords} from '../../../static/views/lacking_note.js';
import {syncSentence} from '../../../static/views/sync_words.js';
import {leftWords} from '../../../static/views/withdrawn_note.js';

const thisYear = new Date().getFullYear();
const status = (more) => ({phase: 'idle', lastSyncedAt: null, waiting: 0, held: 0, ...more});
const said = (more) => syncSentence(status(more), NOON).words;
// Said at the clock of whoever runs the test.
const NOON = new Date(2026, 10, 25, 12).getTime();
const AT_NINE = new Date(2026, 10, 25, 9, 5).toISOString();

test('a date has its year only when it is another one', () => {
  assert.match(sayDate(`${thisYear}-03-03`), /^\w{3},? 3 Mar$/);
  assert.equal(sayDate('2019-03-05').replace(',', ''), 'Tue 5 Mar 2019');
});

test('a date stays on its day in every time zone, at the ends of the year too', () => {
  const before = process.env.TZ;
  try {
    for (const zone of ['Pacific/Kiritimati', 'Pacific/Pago_Pago', 'Europe/London']) {
      process.env.TZ = zone;
      assert.match(sayDate('2019-01-01'), / 1 Jan 2019$/, zone);
      assert.match(sayDate('2019-12-31'), / 31 Dec 2019$/, zone);
    }
  } finally {
    if (before === undefined) delete process.env.TZ;
    else process.env.TZ = before;
  }
});

test('the date of a moment is that of the place, two digits each', () => {
  assert.equal(localDate(new Date(2026, 0, 2, 0, 0)), '2026-01-02');
  assert.equal(localDate(new Date(2026, 11, 31, 23, 59)), '2026-12-31');
});

test('a moment is said at the clock of the place where it was recorded', () => {
  assert.match(sayMoment('2019-12-31T23:30:00.000Z', 60), / 1 Jan 2020, 0:30$/);
  assert.match(sayMoment('2019-07-01T04:05:00.000Z', -300), / 30 Jun 2019, 23:05$/);
  assert.match(sayMoment('2019-07-01T09:05:00.000Z', 0), /, 9:05$/);
  assert.match(sayMoment('2019-07-01T18:15:00.000Z', 345), / 2 Jul 2019, 0:00$/, 'a quarter of an hour off');
});

test('clocks are said without a leading zero, midnight with one', () => {
  assert.deepEqual([sayTime('09:30'), sayTime('10:05'), sayTime('00:15')], ['9:30', '10:05', '0:15']);
  assert.equal(sayClock(new Date(2026, 10, 25, 9, 5)), '9:05');
});

test('counts', () => {
  assert.deepEqual([sayCount(0, 'visit'), sayCount(1, 'visit'), sayCount(2, 'visit')], ['0 visits', '1 visit', '2 visits']);
  assert.equal(sayCount(2, 'entry', 'entries'), '2 entries');
});

test('with nothing waiting the sentence says how fresh the phone is', () => {
  assert.equal(said({}), 'Not synced yet');
  assert.equal(said({lastSyncedAt: AT_NINE}), 'All synced at 9:05');
  assert.equal(said({phase: 'syncing', lastSyncedAt: AT_NINE}), 'Syncing');
  assert.equal(said({phase: 'offline'}), 'No connection');
  assert.match(said({phase: 'offline', lastSyncedAt: AT_NINE}), /^No connection, .*9:05$/);
  assert.match(said({phase: 'error', lastSyncedAt: AT_NINE}), /problem/);
});

test('what waits is never hidden by the state of the line', () => {
  for (const phase of ['idle', 'syncing', 'offline', 'error', 'sign_in', 'update']) {
    const words = said({phase, waiting: 3, lastSyncedAt: AT_NINE});
    assert.match(words, /\b3\b/, phase);
    assert.doesNotMatch(words, /All synced/, phase);
  }
});

test('what needs a person comes first and asks for attention', () => {
  assert.match(said({held: 1, waiting: 2, phase: 'offline'}), /^1 needs attention\b.*\b2\b/);
  assert.match(said({held: 2}), /^2 need attention/);
  assert.match(said({phase: 'sign_in', waiting: 4}), /4.*sign in/);
  assert.match(said({phase: 'update'}), /update/);
  const asks = (more) => syncSentence(status(more)).attention;
  assert.deepEqual([asks({held: 1}), asks({phase: 'sign_in'}), asks({phase: 'offline', waiting: 9}), asks({})],
    [true, true, false, false]);
});

test('a withdrawn phone says so before anything else, and what is left on it', () => {
  assert.match(said({revoked: true, held: 1}), /^Withdrawn · 1 needs attention/);
  assert.equal(syncSentence(status({revoked: true})).attention, true);
  assert.match(leftWords(0), /had reached the server/);
  assert.match(leftWords(1), /^1 entry you recorded is not/);
  assert.match(leftWords(7), /^7 entries you recorded are not/);
});

test('another device\'s loss is told until it was seen, and again when it grows', () => {
  const session = {lacking: [{device: 'a', name: 'Android', last_sync_at: '2026-11-24T09:40:00.000Z', entries: 3}, {device: 'me', entries: 1}]};
  const told = (seen) => lackingElsewhere(session, 'me', seen).map(({device}) => device);
  assert.deepEqual([told(null), told({a: 3}), told({a: 2}), lackingElsewhere(null, 'me', null)], [['a'], [], ['a'], []]);
  assert.match(lackingWords({...session.lacking[0], entries: 1}), /^1 entry recorded .*Android.* is not on the server\.$/);
});

test('an old sync says its day', () => {
  const before = new Date(2026, 10, 24, 9, 5).toISOString();
  assert.match(said({lastSyncedAt: before}), /^All synced Tue 24 Nov.*, 9:05$/);
  assert.match(said({phase: 'offline', lastSyncedAt: before}), /^No connection, synced Tue 24 Nov/);
});

test('what waits says since when, and is late after a day', () => {
  const since = (hours) => ({oldest: new Date(NOON - hours * 3_600_000).toISOString(), phase: 'offline'});
  const late = (more) => syncSentence(status(more), NOON).late;
  assert.equal(said({waiting: 3, ...since(0.9)}), '3 not sent yet');
  assert.equal(said({waiting: 3, ...since(1)}), '3 not sent yet, the oldest for 1 hour');
  assert.equal(said({waiting: 1, ...since(5.5)}), '1 not sent yet, for 5 hours');
  assert.equal(said({waiting: 2, ...since(49)}), '2 not sent yet, the oldest for 2 days');
  assert.equal(said({waiting: 2, ...since(-9)}), '2 not sent yet', 'a clock set back');
  assert.deepEqual([late({waiting: 1, ...since(23.9)}), late({waiting: 1, ...since(24)}), late({waiting: 0, ...since(99)}),
    late({waiting: 1, revoked: true, ...since(99)})], [false, true, false, false]);
});

test('a long first fill says how far it has come', () => {
  const receiving = (share, clients) => said({phase: 'syncing', progress: {share, clients}});
  assert.equal(receiving(0.47, 0), 'Receiving the record, 40 %');
  assert.equal(receiving(0.999, 4), 'Receiving the record, 90 %');
  assert.equal(receiving(1, 1), 'Receiving the record, 1 client to go');
  assert.equal(said({phase: 'syncing', progress: {share: 0.5, clients: 0}, waiting: 2}), 'sending 2');
});

test('clocks that disagree are said from ten minutes on, surely, and neither is blamed', () => {
  const clock = (minutes, give = 0) => clockWords({behind: minutes * 60_000, give: give * 60_000});
  for (const quiet of [null, clock(0), clock(9.99), clock(-9.99), clock(11, 2)]) assert.equal(quiet ?? clockWords(quiet), null);
  assert.match(clock(10)[0], /phone’s clock was 10 minutes behind the server’s/);
  assert.match(clock(-119)[0], /119 minutes ahead of the server’s/);
  assert.match(clock(-120)[0], / 2 hours ahead/);
  assert.match(clock(-47 * 60)[0], / 47 hours ahead/);
  assert.match(clock(48 * 60)[0], / 2 days behind/);
  assert.match(clock(30)[1], /If they are wrong, set them right .* If they are right, tell whoever/);
});

test('what the server does not take is spoken of only where it is so', () => {
  const ahead = (hours) => clockWords({behind: -hours * 3_600_000, give: 0});
  assert.deepEqual([ahead(24).length, ahead(-25).length, ahead(25).length], [2, 2, 3]);
  assert.match(ahead(25)[2], /Nothing is lost.*sent again once the server’s clock is right/);
});
