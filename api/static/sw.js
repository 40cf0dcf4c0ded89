// Kept by the browser while no page is open: shows what is pushed, opens what a tap asks for, and where a page cannot be
// loaded, the one that kept_pages.js kept on this phone, marked with its age. WORDS comes from the service.
"use strict";

const NOTHING = { title: "coatbell", body: WORDS.nothing };
const PARTS = "coatbell parts";
const PATIENCE_MS = 8000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("push", (event) => event.waitUntil(show(said(event.data))));
self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const { link, reply } = event.notification.data || {};
  event.waitUntil(open(event.action === "reply" && reply ? reply : link));
});
self.addEventListener("fetch", (event) => {
  const { request } = event, address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request, named(address)));
  else if (address.pathname.startsWith("/static/")) event.respondWith(part(request));
});
self.addEventListener("pushsubscriptionchange", (event) => event.waitUntil(renew(event)));

function said(data) {
  try {
    return { ...NOTHING, ...data.json() };
  } catch (unreadable) {
    return NOTHING; // a browser that shows nothing for a push takes the permission away
  }
}

function show(message) {
  const { title, body, tag, urgent, link, reply } = message;
  return self.registration.showNotification(title, {
    body,
    tag: tag || undefined,
    renotify: Boolean(tag), // a reminder takes the place of the message before, and rings all the same
    requireInteraction: Boolean(urgent),
    actions: reply ? [{ action: "reply", title: WORDS.onMyWay }] : [],
    data: { link, reply },
  });
}

async function open(link) {
  const address = here(link);
  const pages = await self.clients.matchAll({ type: "window" });
  const shown = pages.find((page) => page.url === address);
  return shown ? shown.focus() : self.clients.openWindow(address);
}

// Always by the address this browser knows coatbell by: that in the message may only be known within the shop.
function here(link) {
  const asked = new URL(link || "/", self.location.origin);
  return new URL(asked.pathname + asked.search, self.location.origin).href;
}

async function renew(event) {
  const before = event.oldSubscription;
  if (!before) return; // whose it was cannot be told: the page says so when it is opened
  const after = event.newSubscription || await self.registration.pushManager.subscribe(before.options);
  const body = JSON.stringify({ subscription: after.toJSON(), replaces: await mark(before.endpoint) });
  await fetch("/api/push", { method: "POST", headers: { "Content-Type": "application/json" }, body });
}

async function mark(endpoint) {
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(endpoint));
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("").slice(0, 16);
}

// pages without a connection

// As kept_pages.js names it.
function named(address) {
  const tank = address.pathname === "/dipping" && address.searchParams.get("tank");
  return tank ? `/dipping?tank=${encodeURIComponent(tank)}` : address.pathname;
}

async function page(request, path) {
  const loaded = fetch(request);
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
  const answer = await Promise.race([loaded, late]).catch(() => null);
  return answer || await kept(path) || loaded.catch(() => told(WORDS.missing));
}

async function kept(path) {
  const found = await inStore(path).catch(() => null);
  if (!found) return null;
  const escaped = found.said.replace(/[&<>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
  const html = found.html
    .replace("<html ", `<html data-kept="${Number(found.at)}" `)
    .replace(/<body[^>]*>/, (body) => `${body}<div class="kept-banner" role="alert"><p>${escaped}</p></div>`);
  return answered(html, 200, found.policy);
}

function told(words) {
  return answered(`<!doctype html><html><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>coatbell</title></head>
<body><h1>coatbell</h1><p>${words}</p><p><a href="/">${WORDS.board}</a></p></body></html>`, 503, null);
}

function answered(html, status, policy) {
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy || "default-src 'self'" };
  return new Response(html, { status, headers });
}

// Opened as the pages left it: where there is none, none is made.
function inStore(path) {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("coatbell");
    asked.onupgradeneeded = () => asked.transaction.abort();
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
      const found = asked.result.transaction("pages").objectStore("pages").get(path);
      found.onsuccess = () => resolve(found.result);
      found.onerror = () => reject(found.error);
      asked.result.close(); // once that is done
    };
  });
}

// Scripts and styles: from the service, else as they were last; an older build's are let go.
async function part(request) {
  const parts = await caches.open(PARTS);
  try {
    const answer = await fetch(request);
    if (answer.ok) await exchange(parts, request, answer.clone());
    return answer;
  } catch (lost) {
    return await parts.match(request) || Response.error();
  }
}

async function exchange(parts, request, answer) {
  const olds = await parts.keys(request, { ignoreSearch: true });
  await Promise.all(olds.filter((old) => old.url !== request.url).map((old) => parts.delete(old)));
  await parts.put(request, answer);
}
