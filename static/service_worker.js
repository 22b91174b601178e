// Keeps the app's own files for use without a network. It imports nothing, knows no record and
// never touches /api/ or the sign-in pages: personal data stays out of the worker and its cache.
//
// The server puts {version, urls: {address: integrity}} here; a changed byte in any listed file
// changes the version, and so this script, and so the browser installs a new worker.
self.__LINTEL = null;

const PREFIX = 'lintel-';
const CACHE = PREFIX + self.__LINTEL.version;
const SHELL = '/app/';
const OFFLINE = '/offline';
const KEPT = ['/built/', '/forms/', '/icons/', '/manifest.webmanifest', OFFLINE];
const LEFT_ALONE = ['/api/', '/sign-in', '/sign-out', '/healthz'];

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
