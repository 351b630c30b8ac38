// Keeps the newest plan of cold nights on this device, so that opening it again, or coming back to it without signal, shows it. It sees
// /cold-night alone. Style and script need no keeping here: their addresses carry their content and the browser holds them.
"use strict";
const SHELF = "tonight";
const PLAN = "/cold-night";
// Says that an answer holds a plan, and for how many hours it is of use.
const HOURS = "winterfig-plan-hours";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function kept() {
  const shelf = await caches.open(SHELF);
  const page = await shelf.match(PLAN);
  const age = page ? Date.now() - Date.parse(page.headers.get("date")) : NaN;
  if (age < Number(page?.headers.get(HOURS)) * 3600e3) return page;
  await shelf.delete(PLAN);
  return null;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.mode !== "navigate" || address.pathname !== PLAN) return;
  event.respondWith((async () => {
    if (request.method === "GET") {
      // Asked for a new plan: the kept one is done with. Opened plainly: the kept one, while it is of use.
      if (address.searchParams.has("new")) await (await caches.open(SHELF)).delete(PLAN);
      const page = address.search === "" ? await kept() : null;
      if (page) return page;
    }
    try {
      const answer = await fetch(request);
      if (answer.ok && answer.headers.has(HOURS)) {
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
