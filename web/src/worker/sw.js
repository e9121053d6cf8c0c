// Keeps the page's own files, so that it opens and says what is wrong when the station is away. Nothing the
// station tells is kept: an old weight must never look like a new one.
/* global self, caches, fetch, Response */

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

/** A gateway's answers in the place of a station that is away. */
const AWAY = [502, 503, 504];

/** The station's page where it answers, so that a newer one is taken at once; else the one that was kept.
 *  Whatever else is answered is passed on: a proxy that sends to its own sign-in, or that refuses, must be
 *  seen, or nobody gets past a page that cannot reach its station. */
async function page(request) {
  const answer = await fetch(request).catch(() => null);
  if (answer !== null && !AWAY.includes(answer.status)) return answer;
  return (await caches.match("./", { cacheName: KEPT })) ?? answer ?? Response.error();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const home = new URL("./", self.location.href);
  const path = new URL(request.url).href.slice(home.href.length);
  if (request.method !== "GET" || !request.url.startsWith(home.href)) return;
  if (request.mode === "navigate" && path.split(/[?#]/)[0] === "") event.respondWith(page(request));
  // Kept with this very page; all but two have names that change with what is in them.
  else if (path !== "" && FILES.includes(`./${path}`)) {
    event.respondWith(caches.match(request, { cacheName: KEPT }).then((kept) => kept ?? fetch(request)));
  }
});
