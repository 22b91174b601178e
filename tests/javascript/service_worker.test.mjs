// The service worker's part in reminders, run as the browser runs it: a script with a global of its own.
import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {test} from 'node:test';
import {createContext, runInContext} from 'node:vm';

const SCRIPT = readFileSync(new URL('../../static/service_worker.js', import.meta.url), 'utf8').replace('self.__LINTEL = null', 'self.__LINTEL = {version: "1", urls: {}}');
const NUMBER = '01934a5e-0000-7000-8000-000000000001';

/** A worker with what it may reach; `windows` are open, `answer` is what the server says or throws. */
function worker({windows = [], answer = {ok: true, status: 200}} = {}) {
  const seen = {shown: [], asked: [], opened: [], told: [], focused: []};
  const listeners = {};
  const clients = windows.map((each, index) => ({url: 'https://lintel.invalid/app/', visibilityState: 'hidden', focused: false, ...each,
    postMessage: (message) => seen.told.push([index, message.type]),
    focus: async () => { seen.focused.push(index); if (each.refuses) throw new Error('not allowed'); }}));
  const self = {
    addEventListener: (name, listener) => { listeners[name] = listener; },
    location: {origin: 'https://lintel.invalid'},
    registration: {showNotification: async (title, options) => seen.shown.push({title, ...options})},
    clients: {matchAll: async () => clients, openWindow: async (path) => seen.opened.push(path)},
  };
  const fetch = async (path, options) => {
    seen.asked.push([path, options.credentials, JSON.parse(options.body)]);
    if (answer instanceof Error) throw answer;
    return answer;
  };
  runInContext(SCRIPT, createContext({self, URL, Response, Request, caches: {}, fetch}));
  const fire = async (name, event) => {
    let wait;
    listeners[name]({...event, waitUntil: (promise) => { wait = promise; }});
    await wait;
    return seen;
  };
  const push = (text) => fire('push', {data: text === null ? null : {json: () => JSON.parse(text)}});
  const click = (action, data = {count: 2, again: NUMBER}) => fire('notificationclick', {action, notification: {data, close: () => { seen.closed = true; }}});
  return {push, click, seen};
}

const shownFor = async (text) => (await worker().push(text)).shown[0];

test('a reminder shows its number and nobody\'s name, replaces the one before, and can be opened or put off', async () => {
  const shown = await shownFor(JSON.stringify({k: 'reminder', n: 2, again: NUMBER}));
  assert.equal(shown.title, 'Lintel');
  assert.equal(shown.body, '2 reassessments wait for you. Unlock Lintel to see whose.');
  assert.deepEqual([shown.tag, shown.renotify, [...shown.actions].map(({action}) => action).join()], ['due', true, 'open,again']);
  assert.match((await shownFor(JSON.stringify({k: 'reminder', n: 1, again: NUMBER}))).body, /^1 reassessment waits for you/);
});

test('whatever comes, something that says nothing wrong is shown', async () => {
  for (const text of [null, '', 'not json', '[]', 'null', '7', '{"k":"other","n":3}', '{"k":"reminder","n":-1}', '{"k":"reminder","n":"2 for Ann"}', '{"k":"reminder","n":1.5}']) {
    const shown = await shownFor(text);
    assert.equal(shown.body, 'Something waits for you. Unlock Lintel to see what.', text);
    assert.equal(shown.tag, 'due');
  }
  const strange = await shownFor('{"k":"reminder","n":2,"again":"../../x"}');
  assert.deepEqual([...strange.actions].map(({action}) => action), ['open'], 'a number that is none offers nothing to put off');
});

test('tapped with no window open, the list is opened', async () => {
  assert.deepEqual((await worker().click('')).opened, ['/app/due']);
  assert.deepEqual((await worker({windows: [{url: 'https://lintel.invalid/account'}]}).click('open')).opened, ['/app/due']);
});

test('tapped with a window open, that one is told and comes to the front, and goes nowhere by itself', async () => {
  const seen = await worker({windows: [{}, {visibilityState: 'visible'}, {url: 'https://lintel.invalid/sign-in', focused: true}]}).click('open');
  assert.deepEqual([seen.told, seen.focused, seen.opened, seen.closed], [[[1, 'SHOW_DUE']], [1], [], true]);
  const refused = await worker({windows: [{refuses: true}]}).click('');
  assert.deepEqual([refused.told, refused.opened], [[[0, 'SHOW_DUE']], []]);
});

test('put off: the number goes to the server without a session, and nothing more is shown', async () => {
  const seen = await worker().click('again');
  assert.deepEqual(seen.asked, [['/reminders/again', 'omit', {reminder: NUMBER}]]);
  assert.deepEqual([seen.shown, seen.opened], [[], []]);
});

test('not put off: the reminder comes back and says why', async () => {
  const shown = async (answer) => (await worker({answer}).click('again')).shown[0];
  const offline = await shown(new TypeError('offline'));
  assert.equal(offline.body, 'Not put off: there is no connection. 2 reassessments wait for you. Unlock Lintel to see whose.');
  assert.equal([...offline.actions].length, 2, 'it can be tried again');
  assert.match((await shown({ok: false, status: 503})).body, /could not do it now/);
  const gone = await shown({ok: false, status: 404});
  assert.match(gone.body, /too old/);
  assert.deepEqual([...gone.actions].map(({action}) => action), ['open']);
});
