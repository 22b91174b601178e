// Keeps the app's own files for use without a network. It imports nothing, knows no record and
// never touches /api/ or the sign-in pages: personal data stays out of the worker and its cache. A push
// message brings a number and nobody's name; who it is about is told after unlocking.
//
// The server puts {version, urls: {address: integrity}} here; a changed byte in any listed file
// changes the version, and so this script, and so the browser installs a new worker.
self.__LINTEL = null;

const PREFIX = 'lintel-';
const CACHE = PREFIX + self.__LINTEL.version;
const SHELL = '/app/';
const OFFLINE = '/offline';
const KEPT = ['/built/', '/forms/', '/icons/', '/manifest.webmanifest', OFFLINE];
const LEFT_ALONE = ['/api/', '/calendar/', '/reminders/', '/sign-in', '/sign-out', '/healthz'];
const DUE_LIST = '/app/due';
const AGAIN = '/reminders/again';

const startsWithAny = (path, starts) => starts.some((start) => path.startsWith(start));
const isApp = (path) => path === '/app' || path.startsWith(SHELL);

self.addEventListener('install', (event) => event.waitUntil(keepEverything()));
self.addEventListener('activate', (event) => event.waitUntil(takeOver()));
self.addEventListener('message', (event) => {
  if (event.data?.type === 'SKIP_WAITING') event.waitUntil(self.skipWaiting());
  if (event.data?.type === 'VERSION') event.ports[0]?.postMessage(self.__LINTEL.version);
});
self.addEventListener('fetch', (event) => {
  const answer = answerFor(event.request);
  if (answer) event.respondWith(answer);
});

self.addEventListener('push', (event) => event.waitUntil(remind(reminderIn(event.data))));
self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  event.waitUntil(event.action === 'again' ? remindAgain(event.notification.data) : showDue());
});

// All or nothing: the hashes refuse a portal's page or a half-deployed file in place of ours.
async function keepEverything() {
  const cache = await caches.open(CACHE);
  const requests = Object.entries(self.__LINTEL.urls).map(
    ([url, integrity]) => new Request(url, {cache: 'reload', credentials: 'omit', integrity}),
  );
  try {
    await cache.addAll(requests);
  } catch (failure) {
    await caches.delete(CACHE);
    throw failure;
  }
}

async function takeOver() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

/** The answer as a promise, or null to let the browser do as if there were no worker. */
function answerFor(request) {
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return null;
  if (startsWithAny(url.pathname, LEFT_ALONE)) return null;
  if (request.mode === 'navigate') return navigation(request, url.pathname);
  return startsWithAny(url.pathname, KEPT) ? keptOrFetched(url.pathname, request) : null;
}

function navigation(request, path) {
  if (path === '/') return Promise.resolve(Response.redirect(SHELL));
  if (isApp(path)) return keptOrFetched(SHELL, request);
  if (startsWithAny(path, KEPT)) return keptOrFetched(path, request);
  return fetch(request).catch(() => kept(OFFLINE));
}

const kept = async (path) => (await caches.open(CACHE)).match(path);
const keptOrFetched = async (path, request) => (await kept(path)) ?? fetch(request);

/** What a push message says: {count, again}, either null where it says nothing that can be used. */
function reminderIn(message) {
  const unknown = {count: null, again: null};
  try {
    const {k, n, again} = message.json();
    if (k !== 'reminder') return unknown;
    const count = Number.isInteger(n) && n > 0 && n < 10_000 ? n : null;
    return {count, again: /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/.test(again) ? again : null};
  } catch {
    return unknown;  // an empty or broken message is a reminder all the same: browsers want something shown
  }
}

function waitingWords(count) {
  if (count === null) return 'Something waits for you. Unlock Lintel to see what.';
  return `${count === 1 ? '1 reassessment waits' : `${count} reassessments wait`} for you. Unlock Lintel to see whose.`;
}

/** One notification at a time: a new one takes the place of the one before, and is heard. */
function remind({count, again}, trouble = '') {
  const actions = [{action: 'open', title: 'Open'}];
  if (again) actions.push({action: 'again', title: 'Next workday'});
  return self.registration.showNotification('Lintel', {
    body: [trouble, waitingWords(count)].filter(Boolean).join(' '),
    tag: 'due', renotify: true, icon: '/icons/lintel-192.png', data: {count, again}, actions,
  });
}

async function remindAgain(reminder) {
  const why = await askedAgain(reminder.again);
  if (why) await remind(why === 'gone' ? {...reminder, again: null} : reminder, TROUBLE[why]);
}

const TROUBLE = {
  offline: 'Not put off: there is no connection.',
  refused: 'Not put off: the server could not do it now.',
  gone: 'Not put off: this reminder is too old for that.',
};

/** Null when it was put off, else why not. Nobody is signed in for this: the number in the message is enough. */
async function askedAgain(reminder) {
  try {
    const {ok, status} = await fetch(AGAIN, {
      method: 'POST', credentials: 'omit', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({reminder}),
    });
    if (ok) return null;
    return status === 404 ? 'gone' : 'refused';
  } catch {
    return 'offline';
  }
}

/** An open window is told and comes to the front: it may hold a form, so it decides itself where to go. */
async function showDue() {
  const windows = await self.clients.matchAll({type: 'window', includeUncontrolled: true});
  const ours = windows.filter(({url}) => isApp(new URL(url).pathname));
  const open = ours.find(({focused}) => focused) ?? ours.find(({visibilityState}) => visibilityState === 'visible') ?? ours[0];
  if (!open) return self.clients.openWindow(DUE_LIST);
  open.postMessage({type: 'SHOW_DUE'});
  return open.focus().catch(() => {});  // a browser may refuse; the window offers the list all the same
}
