// Serves one whole set of the page's files when there is no signal, and does nothing else: no record passes through
// here. The yard writes SET, SHELL and FILES in front of this when it is fetched.

const NAME = `slake-check-${SET}`;

// Only a plain answer of the yard's own is kept: a network's sign-in page in its place would stay for good.
async function fetchWhole(path) {
  const response = await fetch(path, { cache: "reload", credentials: "omit" });
  if (response.status !== 200 || response.redirected || response.type !== "basic") throw new Error(`no ${path}`);
  if (path === SHELL && response.headers.get("X-Slake-Set") !== SET) throw new Error("not the page of this set");
  return response;
}

self.addEventListener("install", (event) => {
  const keep = async () => {
    const cache = await caches.open(NAME);
    for (const path of [SHELL, ...FILES]) await cache.put(path, await fetchWhole(path));
  };
  event.waitUntil(keep());
});

self.addEventListener("activate", (event) => {
  const clear = async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("slake-check-") && name !== NAME) await caches.delete(name);
    }
    await self.clients.claim();
  };
  event.waitUntil(clear());
});

// A new set waits until the page says that nothing is half done in it.
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const path = event.request.mode === "navigate" && url.pathname === SHELL ? SHELL : url.pathname;
  if (path !== SHELL && !FILES.includes(path)) return;
  const answer = async () => (await (await caches.open(NAME)).match(path)) ?? fetch(event.request);
  event.respondWith(answer());
});
