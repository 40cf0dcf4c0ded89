// Switches on and off that this browser is rung, on the page "Messages".
"use strict";

const part = document.getElementById("ring");
const form = document.getElementById("ring-on");
const WORDS = JSON.parse(part.dataset.words);

part.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  if (button) busy(button, DOES[button.dataset.do]);
});
if (form) {
  form.addEventListener("submit", (event) => { event.preventDefault(); busy(event.submitter, switchOn); });
  look().catch((error) => tell(error.message));
}

const DOES = {
  forget: async (button) => {
    const device = button.closest("li").dataset;
    if (device.mark === await ownMark()) await unsubscribe();
    await ask("DELETE", `/api/push/${device.id}`);
    anew();
  },
  test: async (button) => {
    const went = await ask("POST", `/api/push/${button.closest("li").dataset.id}/test`);
    tell(went.taken ? WORDS.sent : WORDS.not_sent.replace("{why}", went.words));
  },
};

// Shows the switch, or says why there can be none.
async function look() {
  if (!window.isSecureContext) return tell(WORDS.https);
  if (!("serviceWorker" in navigator && "PushManager" in window && "Notification" in window)) return tell(WORDS.missing);
  const subscription = await subscribed(), own = listed(await ownMark());
  if (own && !sameKey(subscription)) tell(WORDS.new_key);
  else if (own) return own.querySelector(".own").hidden = false;
  else if (subscription) tell(WORDS.forgotten);
  form.hidden = false;
}

async function switchOn() {
  if (await Notification.requestPermission() !== "granted") {
    throw new Error(WORDS.not_allowed);
  }
  const registration = await navigator.serviceWorker.register("/sw.js", { scope: "/" });
  await navigator.serviceWorker.ready;
  const before = listed(await ownMark());
  await unsubscribe(); // what is left of before is not known here any more, or goes by another key
  const subscription = await subscribe(registration);
  const told = { subscription: subscription.toJSON(), person: form.elements.person.value, device: form.elements.device.value };
  try {
    await ask("POST", "/api/push", told);
  } catch (refused) {
    await subscription.unsubscribe();
    throw refused;
  }
  if (before) await ask("DELETE", `/api/push/${before.dataset.id}`);
  anew();
}

function listed(mark) {
  return mark && document.querySelector(`#ring li[data-mark="${mark}"]`);
}

// The page as it is now; never by asking again for what a form was sent to.
function anew() {
  if (location.pathname === "/messages") location.reload();
  else location.assign("/messages#ring");
}

async function subscribe(registration) {
  try {
    return await registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(part.dataset.key) });
  } catch (error) {
    throw new Error(WORDS.away.replace("{why}", error.message));
  }
}

async function subscribed() {
  const registration = await navigator.serviceWorker?.getRegistration("/");
  return registration?.pushManager?.getSubscription();
}

async function unsubscribe() {
  return (await subscribed())?.unsubscribe();
}

async function ownMark() {
  const subscription = await subscribed();
  if (!subscription) return null;
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(subscription.endpoint));
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("").slice(0, 16);
}

function sameKey(subscription) {
  const key = subscription.options?.applicationServerKey;
  return !key || new Uint8Array(key).toString() === bytes(part.dataset.key).toString();
}

function bytes(text) {
  return Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (letter) => letter.charCodeAt(0));
}

async function ask(method, address, told) {
  const sent = told ? { headers: { "Content-Type": "application/json" }, body: JSON.stringify(told) } : {};
  const answer = await fetch(address, { method, ...sent });
  const said = await answer.json();
  if (!answer.ok) throw new Error(`${said.error.message} ${said.error.todo}`);
  return said;
}

async function busy(button, work) {
  button.disabled = true;
  tell("");
  try {
    await work(button);
  } catch (error) {
    tell(error.message);
  } finally {
    button.disabled = false;
  }
}

function tell(words) {
  const line = document.getElementById("ring-told");
  line.textContent = words;
  line.hidden = !words;
}
