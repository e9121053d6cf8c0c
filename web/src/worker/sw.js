// Keeps the page's own files, so that it opens and says what is wrong when the station is away. Nothing the
// station tells is kept: an old weight must never look like a new one.
/* global self, caches, fetch */

const KEPT = "weighd-__STAMP__";
const FILES = __FILES__;

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(FILES)));
});

self.addEventListener("activate", (event) => {
  const others = (names) => names.filter((name) => name.startsWith("weighd-") && name !== KEPT);
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(others(names).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

/** The station's page where it answers, so that a newer one is taken at once; else the one that was kept. */
async function page(request) {
  try {
    const answer = await fetch(request);
    if (answer.ok) return answer;
    throw new Error(String(answer.status));
  } catch (error) {
    const kept = await caches.match("./", { cacheName: KEPT });
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const home = new URL("./", self.location.href);
  const path = new URL(request.url).href.slice(home.href.length);
  if (request.method !== "GET" || !request.url.startsWith(home.href)) return;
  if (request.mode === "navigate" && path.split(/[?#]/)[0] === "") event.respondWith(page(request));
  // Their names change with what is in them.
  else if (path.startsWith("assets/") || path === "icon.svg") {
    event.respondWith(caches.match(request, { cacheName: KEPT }).then((kept) => kept ?? fetch(request)));
  }
});
