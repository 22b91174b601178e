// Registers the service worker and tells when a new version waits. The caller decides when to
// apply it: never while a form is dirty.

const WORKER = '/service_worker.js';
const HOURLY = 60 * 60 * 1000;

let trusted = null;
let waiting = null;
let applying = false;
let reloaded = false;
let hadController = false;
let lastCheck = 0;
const listeners = new Set();

// Trusted Types wants a policy for a worker's address; ours allows this one address only.
function workerUrl(scope = globalThis) {
  if (!scope.trustedTypes) return WORKER;
  trusted ??= scope.trustedTypes.createPolicy('app', {
    createScriptURL(url) {
      if (url === WORKER) return url;
      throw new TypeError('Not an address of ours');
    },
  });
  return trusted.createScriptURL(WORKER);
}

function announce(worker) {
  waiting = worker;
  for (const listener of listeners) listener();
}

function watch(registration) {
  const worker = registration.installing;
  worker?.addEventListener('statechange', () => {
    if (worker.state === 'installed' && navigator.serviceWorker.controller) announce(worker);
  });
}

function onControllerChange() {
  if (applying) return reloadOnce();
  // Another tab applied the update. This page may hold a form, so it only says so.
  if (hadController) announce(null);
  hadController = true;
  return undefined;
}

function reloadOnce() {
  if (reloaded) return;
  reloaded = true;
  location.reload();
}

function checkOnReturn(registration) {
  if (document.visibilityState !== 'visible' || Date.now() - lastCheck < HOURLY) return;
  lastCheck = Date.now();
  registration.update().catch(() => {});  // no network: the next return tries again
}

/**
 * Registers the worker; quiet where there is none. Call once at start.
 * @returns {Promise<ServiceWorkerRegistration|null>}
 */
export async function registerWorker() {
  const container = navigator.serviceWorker;
  if (!container) return null;
  hadController = Boolean(container.controller);
  lastCheck = Date.now();
  container.addEventListener('controllerchange', onControllerChange);
  const registration = await container.register(workerUrl(), {scope: '/', updateViaCache: 'none'});
  if (registration.waiting && container.controller) announce(registration.waiting);
  registration.addEventListener('updatefound', () => watch(registration));
  document.addEventListener('visibilitychange', () => checkOnReturn(registration));
  registration.update().catch(() => {});  // a corrected rule should not wait for the browser's own daily look
  return registration;
}

/**
 * Calls back when a new version is ready to be applied, at once when it is already.
 * @param {() => void} listener
 * @returns {() => void} stops listening
 */
export function onUpdateReady(listener) {
  listeners.add(listener);
  if (waiting) listener();
  return () => listeners.delete(listener);
}

/** Switches to the new version and reloads this page once. */
export function applyUpdate() {
  applying = true;
  if (waiting) waiting.postMessage({type: 'SKIP_WAITING'});
  else reloadOnce();
}
