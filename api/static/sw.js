// Kept by the browser while no page is open: shows what is pushed, and opens what a tap asks for. It keeps no pages.
"use strict";

const NOTHING = { title: "coatbell", body: "Something wants a hand. Open the board." };

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("push", (event) => event.waitUntil(show(said(event.data))));
self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const { link, reply } = event.notification.data || {};
  event.waitUntil(open(event.action === "reply" && reply ? reply : link));
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
    actions: reply ? [{ action: "reply", title: "On my way" }] : [],
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
