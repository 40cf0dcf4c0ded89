// Entries wait on this phone until coatbell says that it has them: kept before they are sent, sent in the order they were
// made, each with its own key, so that one whose answer was lost is known again and recorded once.
"use strict";

window.waiting = (() => {
  const PATIENCE_MS = 15000, PATIENCE_PHOTOS_MS = 300000; // several megabytes over a weak connection
  const LEAST_MS = 2000, LONGEST_MS = 60000, STUMBLED_MS = 20000;
  const AT_ONCE_MS = 3000; // sent within this, the shop's own clock says when it was
  const MOST_BYTES = 60e6; // of photos that wait, together
  const told = new EventTarget();
  const others = "BroadcastChannel" in window ? new BroadcastChannel("coatbell entries") : null;
  let timer = 0, pause = LEAST_MS, running = null, again = false;

  function tell(name, detail) {
    told.dispatchEvent(new CustomEvent(name, { detail }));
    if (others && name !== "trying") others.postMessage(name);
  }
  if (others) others.onmessage = () => told.dispatchEvent(new CustomEvent("elsewhere"));
  const on = (name, listener) => told.addEventListener(name, (event) => listener(event.detail));
  const all = () => phoneStore.all("entries");
  const bytes = (entry) => entry.fields.reduce((sum, [, value]) => sum + (value.size || 0), 0);
  const field = (entry, name) => (entry.fields.find(([known]) => known === name) || [])[1];

  // kept: "yes"; "already" where the same step of the same mould waits; "heavy" where there is no room; "no" where nothing can be kept.
  async function keep(entry) {
    try {
      const waits = await all(), same = waits.find((each) => each.key === entry.key);
      if (waits.some((each) => each !== same && sameStep(each, entry)) || (same && !same.refused)) return "already";
      const heavy = bytes(entry);
      if (heavy && waits.reduce((sum, each) => sum + bytes(each), heavy) > MOST_BYTES) return "heavy";
      await phoneStore.put("entries", same ? { ...entry, number: same.number } : entry);
    } catch (full) {
      return full && full.name === "QuotaExceededError" ? "heavy" : "no";
    }
    tell("changed");
    return "yes";
  }

  // A coat goes on once, from however many old pages it is told.
  const sameStep = (one, other) => one.action === other.action && Boolean(field(one, "coat")) && field(one, "coat") === field(other, "coat");

  function send() {
    clearTimeout(timer);
    if (running) { again = true; return running; }
    running = oneTab.only(deliver).catch(() => "lost").then(async (how) => {
      if (how !== "done") await waited(how).catch(() => {}); // thrown away meanwhile
      running = null;
      schedule(how);
    });
    return running;
  }

  function schedule(how) {
    if (again && how !== "lost" && how !== "key") { again = false; send(); return; }
    again = false;
    if (how === "done") { pause = LEAST_MS; return; }
    timer = setTimeout(send, pause);
    pause = Math.min(2 * pause, LONGEST_MS);
  }

  // One that cannot go yet holds up the later ones of the same mould, whose sense hangs on it, and no others.
  async function deliver(patient) {
    const held = new Set();
    let left = false;
    for (const { number } of await all()) {
      const entry = await phoneStore.get("entries", number); // it may have been thrown away meanwhile
      if (!entry) continue;
      const free = !entry.refused && !entry.about.some((one) => held.has(one));
      if (free && !(entry.later > Date.now())) {
        const patience = bytes(entry) ? PATIENCE_PHOTOS_MS : PATIENCE_MS;
        if (!await patient(patience)) return "later";
        tell("trying", entry);
        const how = await settle(entry, await post(entry, patience));
        if (how === "lost" || how === "key") return how;
        if (how === "recorded") continue;
      }
      if (!entry.refused) left = true;
      entry.about.forEach((one) => held.add(one));
    }
    return left ? "later" : "done";
  }

  async function post(entry, patience) {
    try {
      const body = entry.multipart ? new FormData() : new URLSearchParams();
      for (const [name, value] of entry.fields) value instanceof Blob ? body.append(name, value, value.name) : body.append(name, value);
      return await read(await fetch(address(entry), { method: "POST", body, headers: { "X-Waits": "yes" }, signal: AbortSignal.timeout(patience) }));
    } catch (lost) {
      return null;
    }
  }

  // Only what coatbell itself says counts: anything else came from whatever stands between.
  async function read(answer) {
    const where = answer.headers.get("X-Recorded");
    if (answer.ok && where !== null) return { where };
    const { error } = await answer.json();
    return error && error.message ? { status: answer.status, words: { message: error.message, todo: error.todo } } : null;
  }

  function address(entry) {
    const late = entry.waited || Date.now() - entry.tapped > AT_ONCE_MS;
    return late ? `${entry.action}?made_at=${encodeURIComponent(entry.madeAt)}` : entry.action;
  }

  async function settle(entry, answer) {
    if (!answer) return "lost";
    pause = LEAST_MS;
    if ("where" in answer) {
      await phoneStore.drop("entries", entry.number);
      tell("recorded", { entry, where: answer.where });
      return "recorded";
    }
    if (answer.status === 401) return "key";
    const stumbled = answer.status >= 500 || answer.status === 429;
    Object.assign(entry, stumbled ? { words: answer.words, later: Date.now() + STUMBLED_MS } : { words: answer.words, refused: true });
    await phoneStore.put("entries", entry);
    tell("refused", entry);
    return "refused";
  }

  // Whatever did not go counts from when it was made, from now on.
  async function waited(how) {
    for (const { number } of await all()) {
      const entry = await phoneStore.change("entries", number, (kept) => kept && !kept.refused && { ...kept, waited: true, why: how });
      if (entry) tell("waits", entry);
    }
  }

  // Not while it is on its way: then it may be recorded already, and that is said instead.
  async function throwAway(number) {
    if (running) await running;
    await phoneStore.drop("entries", number);
    tell("changed");
    send();
  }

  // Tried once more; refused again, its form is opened as it was sent, with why.
  async function putRight(number) {
    await phoneStore.change("entries", number, (entry) => entry && { ...entry, refused: false, waited: true, later: 0 });
    await send();
    const entry = await phoneStore.get("entries", number);
    if (entry && entry.refused) plainForm(entry).submit();
    return entry;
  }

  function plainForm(entry) {
    const form = document.createElement("form");
    Object.assign(form, { method: "post", action: address(entry), hidden: true });
    if (entry.multipart) form.enctype = "multipart/form-data";
    for (const [name, value] of entry.fields) form.append(input(name, value));
    document.body.append(form);
    return form;
  }

  function input(name, value) {
    const made = Object.assign(document.createElement("input"), { name });
    if (!(value instanceof Blob)) { made.value = value; return made; }
    const files = new DataTransfer();
    files.items.add(new File([value], value.name, { type: value.type }));
    return Object.assign(made, { type: "file", files: files.files });
  }

  for (const name of ["online", "pageshow", "focus"]) window.addEventListener(name, send);
  document.addEventListener("beat", () => { if (pause > LEAST_MS) { pause = LEAST_MS; send(); } });
  send();

  return { keep, send, all, throwAway, putRight, on, usable: phoneStore.usable };
})();
