// Keeps this page usable without a network. It stores the page, never entries.
const CACHE = "challenge:@@CLIENT@@:@@KEY@@";
const FILES = ["./", "index.html", "manifest.webmanifest", "icon.svg"];
self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => {
  const mine = (name) => name.startsWith("challenge:@@CLIENT@@:") && name !== CACHE;
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter(mine).map((name) => caches.delete(name)))).then(() => self.clients.claim()));
});
// the network first, so that a new plan is seen at once; the stored copy without one
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || new URL(event.request.url).origin !== self.location.origin) return;
  event.respondWith(fetch(event.request).then(async (answer) => {
    if (answer.ok) (await caches.open(CACHE)).put(event.request, answer.clone());
    return answer;
  }).catch(async () => (await (await caches.open(CACHE)).match(event.request)) ?? Response.error()));
});
