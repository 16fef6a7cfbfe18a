// Keeps the page's files, so that it works with the network off after one visit. A new version waits until the old one
// is closed; what the user entered lives in IndexedDB and is not touched.
const kVersion = 'tillwrap-__VERSION__';
const kFiles = __FILES__;

self.addEventListener('install', (event) => {
  event.waitUntil(caches.open(kVersion).then((cache) => cache.addAll(kFiles)));
});

self.addEventListener('activate', (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith('tillwrap-') && name !== kVersion) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || url.origin !== self.location.origin) return;
  event.respondWith(
    (async () => {
      const cache = await caches.open(kVersion);
      const found =
        (await cache.match(event.request, { ignoreSearch: true })) ??
        (event.request.mode === 'navigate' ? await cache.match('./index.html') : undefined);
      return found ?? fetch(event.request);
    })(),
  );
});
