// While the app cannot be reached, a page asked for is answered by the one that is kept. No page of the book is kept.

addEventListener("install", (event) => {
  event.waitUntil(caches.open(version)
    .then((cache) => cache.addAll(kept.map((address) => new Request(address, { cache: "reload" }))))
    .then(() => skipWaiting()));
});

addEventListener("activate", (event) => {
  const old = (names) => names.filter((name) => name !== version);
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(old(names).map((name) => caches.delete(name))))
    .then(() => clients.claim()));
});

addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin) return;
  if (event.request.mode === "navigate") {
    event.respondWith(fetch(event.request).catch(() => caches.match("/write/away")));
  } else if (address.pathname.startsWith("/assets/") && kept.includes(address.pathname)) {
    event.respondWith(fetch(event.request).catch(() => caches.match(address.pathname)));
  }
});
