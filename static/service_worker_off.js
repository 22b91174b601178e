// The way out of a broken worker: served in its place, this one deletes the kept files and lets
// every request go to the network. It has no fetch handler and leaves IndexedDB alone.
self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => event.waitUntil(clearAndRelease()));

async function clearAndRelease() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith('lintel-')).map((name) => caches.delete(name)));
  await self.clients.claim();
}
