// Reminders in the browser: switching on and off, staying on; and what is asked of the server for it.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {habitsFrom, withDay} from '../../../static/views/reminders/habits_form.js';
import {keepSubscribed, pushPossible, subscriptionHere, switchOff, switchOn} from '../../../static/views/reminders/push.js';

const KEY = Buffer.from([4, 251, 255, 1]).toString('base64url');
const OTHER = Buffer.from([4, 9, 9, 9]).toString('base64url');

/** A browser with push, as far as it is asked anything here. */
function phone({permission = 'granted', answers = permission, fails = null, key = null} = {}) {
  let made = 0;
  let current = null;
  const make = (applicationServerKey) => {
    made += 1;
    const endpoint = `https://push.invalid/${made}`;
    return {endpoint, options: {applicationServerKey: Uint8Array.from(Buffer.from(applicationServerKey, 'base64url')).buffer},
      toJSON: () => ({endpoint, keys: {p256dh: 'p', auth: 'a'}}), unsubscribe: async () => { current = null; }};
  };
  const pushManager = {
    getSubscription: async () => current,
    subscribe: async ({userVisibleOnly, applicationServerKey}) => {
      assert.equal(userVisibleOnly, true);
      if (fails) throw Object.assign(new Error(), {name: fails});
      current = make(applicationServerKey);
      return current;
    },
  };
  if (key) current = make(key);
  const serviceWorker = {ready: Promise.resolve({pushManager}), getRegistration: async () => ({pushManager})};
  const Notification = {permission, requestPermission: async () => { Notification.permission = answers; return answers; }};
  return {navigator: {serviceWorker}, PushManager: class {}, Notification};
}

function shelf(kept = null) {
  const facts = new Map(kept ? [['reminders', kept]] : []);
  return {device: 'device-one', meta: async (key) => facts.get(key) ?? null, setMeta: async (key, value) => { facts.set(key, value); }};
}

/** A server that keeps what it is asked. */
function server(answer = {}, refusal = null) {
  const asked = [];
  const tell = async (path, {body} = {}) => {
    asked.push([path.replace('/api/v1/reminders', ''), body]);
    return refusal ?? {ok: true, answer: {key: KEY, browsers: 1, ...answer}, message: '', field: null};
  };
  return {asked, tell};
}

test('switched on: permission, subscription by the service\'s key, and the server knows where', async () => {
  const scope = phone();
  const store = shelf();
  const {asked, tell} = server();
  assert.equal((await switchOn({store, key: KEY, scope, tell})).ok, true);
  assert.deepEqual(asked, [['/subscribe', {endpoint: 'https://push.invalid/1', p256dh: 'p', auth: 'a', device: 'device-one'}]]);
  assert.deepEqual(await store.meta('reminders'), {endpoint: 'https://push.invalid/1'});
});

test('refused, put aside, or no service of the browser: each says what to do, and nothing is asked of the server', async () => {
  for (const [options, words] of [[{answers: 'denied'}, /does not let Lintel/], [{answers: 'default'}, /was not answered/],
    [{fails: 'AbortError'}, /could not reach its own message service/], [{fails: 'NotAllowedError'}, /does not let Lintel/]]) {
    const {asked, tell} = server();
    const told = await switchOn({store: shelf(), key: KEY, scope: phone(options), tell});
    assert.equal(told.ok, false);
    assert.match(told.message, words);
    assert.deepEqual(asked, []);
  }
});

test('what the server refuses is said and not kept as on', async () => {
  const store = shelf();
  const {tell} = server({}, {ok: false, answer: null, message: 'This needs a connection.', field: null});
  assert.equal((await switchOn({store, key: KEY, scope: phone(), tell})).message, 'This needs a connection.');
  assert.equal(await store.meta('reminders'), null);
});

test('switched off: the server first; where it cannot be told the browser goes on, unless the person leaves', async () => {
  const scope = phone({key: KEY});
  const store = shelf({endpoint: 'https://push.invalid/1'});
  const gone = server({}, {ok: false, answer: null, message: 'No.', field: null});
  assert.equal((await switchOff({store, browser: scope.navigator, tell: gone.tell})).ok, false);
  assert.notEqual(await subscriptionHere(scope.navigator), null);
  assert.deepEqual(gone.asked, [['/unsubscribe', {endpoint: 'https://push.invalid/1'}]]);
  await switchOff({store, browser: scope.navigator, tell: gone.tell, anyhow: true});
  assert.equal(await subscriptionHere(scope.navigator), null);
  assert.equal(await store.meta('reminders'), null);
});

test('at a start a whole subscription is left alone, and one that was never switched on is not made', async () => {
  const {asked, tell} = server();
  assert.equal(await keepSubscribed({store: shelf({endpoint: 'https://push.invalid/1'}), scope: phone({key: KEY}), tell}), false);
  assert.deepEqual(asked, [['', undefined]]);
  const untouched = server();
  assert.equal(await keepSubscribed({store: shelf(), scope: phone(), tell: untouched.tell}), false);
  assert.deepEqual(untouched.asked, []);
});

test('at a start another key, a subscription the browser dropped or one the server lost is made anew', async () => {
  for (const [scope, answer] of [[phone({key: OTHER}), {}], [phone(), {}], [phone({key: KEY}), {browsers: 0}]]) {
    const store = shelf({endpoint: 'https://push.invalid/old'});
    const {asked, tell} = server(answer);
    assert.equal(await keepSubscribed({store, scope, tell}), true);
    const now = (await subscriptionHere(scope.navigator)).endpoint;
    assert.deepEqual(asked.map(([path]) => path), ['', '/subscribe', '/unsubscribe']);
    assert.deepEqual(asked[2][1], {endpoint: 'https://push.invalid/old'});
    assert.deepEqual(await store.meta('reminders'), {endpoint: now});
  }
});

test('at a start the former key of the service is noticed though the browser kept its subscription', async () => {
  const scope = phone({key: OTHER});
  const {asked, tell} = server();
  assert.equal(await keepSubscribed({store: shelf({endpoint: 'https://push.invalid/1'}), scope, tell}), true);
  assert.equal(asked[1][1].endpoint, 'https://push.invalid/2');
});

test('at a start without permission, without the server or without its key nothing is touched', async () => {
  const kept = {endpoint: 'https://push.invalid/old'};
  for (const [scope, line] of [[phone({permission: 'denied'}), server()], [phone(), server({}, {ok: false})], [phone(), server({key: null})],
    [{navigator: {}}, server()], [phone({fails: 'AbortError'}), server()]]) {
    const store = shelf(kept);
    assert.equal(await keepSubscribed({store, scope, tell: line.tell}), false);
    assert.deepEqual(await store.meta('reminders'), kept);
  }
});

test('what a browser lacks is seen', () => {
  assert.equal(pushPossible(phone()), true);
  for (const lacking of ['PushManager', 'Notification', 'navigator']) assert.equal(pushPossible({...phone(), [lacking]: undefined}), false);
});

test('weekdays stay digits in order, and empty days are none', () => {
  assert.equal(withDay('12345', 6, true), '123456');
  assert.equal(withDay('12345', 1, false), '2345');
  assert.equal(withDay('1', 1, false), '');
  assert.equal(withDay('35', 1, true), '135');
  assert.deepEqual(habitsFrom({at: '07:30', days: '1', quiet_from: '', quiet_until: null}, 'Europe/Dublin'),
    {at: '07:30', zone: 'Europe/Dublin', days: '1', quiet_from: null, quiet_until: null});
});
