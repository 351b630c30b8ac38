// Keeps the newest plan of a cold night on this device, so that loading it again or coming back to it without signal shows it. It sees
// /cold-night alone. Style and script need no keeping here: their addresses carry their content and the browser holds them.
"use strict";
const SHELF = "tonight";
const PLAN = "/cold-night";
// A plan older than this is of another night.
const HOURS_KEPT = 18;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function kept() {
  const shelf = await caches.open(SHELF);
  const page = await shelf.match(PLAN);
  const age = page ? Date.now() - Date.parse(page.headers.get("date")) : NaN;
  if (age < HOURS_KEPT * 3600e3) return page;
  await shelf.delete(PLAN);
  return null;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.mode !== "navigate" || new URL(request.url).pathname !== PLAN) return;
  event.respondWith((async () => {
    try {
      const answer = await fetch(request);
      if (request.method === "POST" && answer.ok) {
        const copy = answer.clone();
        event.waitUntil(caches.open(SHELF).then((shelf) => shelf.put(PLAN, copy)));
      }
      return answer;
    } catch (error) {
      const page = await kept();
      if (page) return page;
      throw error;
    }
  })());
});
