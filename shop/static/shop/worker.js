/* An extra where the pages come by https: a page that was open before can be opened again without the network, marked with
   the time it is from. Presses are no concern of it; they wait in the outbox of the page (outbox.js).

   Only pages and style sheets are kept, nothing of the sign-in, no sheets, nothing that was sent. VERSION changes with the
   packed static files; leaving https behind takes the worker away (shop/worker.py). */
"use strict";

const VERSION = "{{ version }}";
const STATIC = "camberbook-static-" + VERSION, PAGES = "camberbook-pages";
const PATIENCE = 4000; // ms
const NEVER = /^\/(sign-in|sign-out|first-run|not-sent|admin|outbox|scan|find|people)\//;
const HASHED = /\.[0-9a-f]{12}\.\w+$/; // the name changes with the content

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("camberbook-") && name !== STATIC && name !== PAGES).map((name) => caches.delete(name)));
  await self.clients.claim();
})()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(staticFile(event.request, url));
  else if (event.request.mode === "navigate" && !NEVER.test(url.pathname)) event.respondWith(page(event));
});

async function staticFile(request, url) {
  const kept = await caches.match(request, { cacheName: STATIC });
  if (kept && HASHED.test(url.pathname)) return kept;
  try {
    const answer = await fetch(request);
    if (answer.ok) await (await caches.open(STATIC)).put(request, answer.clone());
    return answer;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

async function page(event) {
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => keep(event.request, answer.clone()), () => {}));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE));
  try {
    const answer = await Promise.race([asked, late]);
    if (answer) return answer;
  } catch (error) { /* no network */ }
  return (await copyOf(event.request)) || asked;
}

async function keep(request, answer) {
  const isPage = (answer.headers.get("Content-Type") || "").startsWith("text/html");
  if (answer.status !== 200 || answer.redirected || !isPage) return;
  const headers = new Headers(answer.headers);
  headers.set("X-Kept-At", String(Date.now()));
  await (await caches.open(PAGES)).put(request.url, new Response(await answer.blob(), { status: 200, headers }));
}

async function copyOf(request) {
  const kept = await (await caches.open(PAGES)).match(request.url);
  if (!kept) return null;
  const at = new Date(Number(kept.headers.get("X-Kept-At")));
  const when = at.toLocaleString([], { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hour12: false });
  const note = '<p class="from-before" role="status">No contact with the shop\'s machine. This page is from ' + when + ".</p>";
  return new Response((await kept.text()).replace(/(<main\b[^>]*>)/, "$1" + note), { status: 200, headers: kept.headers });
}
