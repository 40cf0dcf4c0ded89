// Keeps a page live: takes each new state from the stream, watches its heartbeat, flashes for a new bell.
"use strict";

const SILENT_MS = 12000;
const FLASH_MS = 10000;
const place = document.getElementById("live");
const noData = document.getElementById("no-data");
let source = null;
let ended = false;
const timers = [];
let lastBeat = Date.now();
let retryMs = 1000;
let flashed = 0;
let rung = new Set(); // the calls that this screen has made
const changed = document.getElementById("changed"); // on a mould's page: its form no longer fits
const firstStage = place.firstElementChild.dataset.stage;

const state = () => place.firstElementChild;

function connect() {
  if (ended) return;
  if (source) source.close();
  source = new EventSource(document.body.dataset.live);
  source.addEventListener("state", (event) => show(event.data)); // a beat comes right after it
  source.addEventListener("beat", (event) => { shopClock.hear(Date.parse(event.data), Number(state().dataset.speed)); beat(); });
  source.addEventListener("gone", () => location.reload());
  source.onerror = () => {
    if (ended || source.readyState !== EventSource.CLOSED) return;
    setTimeout(connect, retryMs); // after an answer other than 200 the browser would give up for ever
    retryMs = Math.min(retryMs * 2, 10000);
  };
}

function beat() {
  lastBeat = Date.now();
  retryMs = 1000;
  document.body.classList.remove("silent");
  noData.hidden = true;
  document.dispatchEvent(new Event("beat"));
  tick();
}

function watch() {
  if (Date.now() - lastBeat < SILENT_MS) return;
  if (noData.hidden) {
    document.getElementById("no-data-since").textContent = shopClock.words(shopClock.at(lastBeat));
    document.body.classList.add("silent");
    noData.hidden = false;
  }
  if (source.readyState !== EventSource.CONNECTING && Date.now() - lastBeat > 2 * SILENT_MS) {
    lastBeat += SILENT_MS; // an open line that says nothing is dead too
    connect();
  }
}

function show(html) {
  const parsed = new DOMParser().parseFromString(html, "text/html").body.firstElementChild;
  if (parsed.dataset.build !== document.documentElement.dataset.build) { location.reload(); return; }
  place.replaceChildren(document.adoptNode(parsed));
  document.documentElement.dataset.light = parsed.dataset.light;
  parsed.dataset.took = Date.now();
  if (changed && parsed.dataset.stage !== firstStage) changed.hidden = false;
  ring(parsed);
}

// bells

function bells(root) {
  return new Set([...root.parentNode.querySelectorAll("[data-bell]")].map((row) => row.dataset.bell));
}

function ring(root) {
  const now = bells(root);
  const fresh = [...now].filter((bell) => !rung.has(bell));
  rung = now;
  for (const bell of fresh) root.parentNode.querySelector(`[data-bell="${CSS.escape(bell)}"]`).classList.add("fresh");
  if (fresh.length) flash();
  if (window.sounder) sounder.heard(root, fresh);
}

function flash() {
  document.body.classList.remove("flash");
  void document.body.offsetWidth; // starts the animation anew
  document.body.classList.add("flash");
  clearTimeout(flashed);
  flashed = setTimeout(() => document.body.classList.remove("flash"), FLASH_MS);
}

// the clock on the wall

function tick() {
  if (document.body.classList.contains("silent")) return;
  for (const clock of document.querySelectorAll("[data-clock]")) clock.textContent = shopClock.words(shopClock.now());
}

function begin() {
  rung = window.sounder ? sounder.rung(bells(state())) : bells(state());
  ring(state());
  connect();
  timers.push(setInterval(watch, 1000), setInterval(tick, 1000));
  if (window.sounder) timers.push(setInterval(() => { if (sounder.tick(state(), document.body.classList.contains("silent"))) flash(); }, 1000));
}

// An old page stands in its place (kept_pages.js): nothing on it is live.
function end() {
  ended = true;
  if (source) source.close();
  for (const timer of timers) clearInterval(timer);
  document.body.classList.remove("silent");
}

document.addEventListener("kept", end);
if (!("kept" in document.documentElement.dataset)) begin();
