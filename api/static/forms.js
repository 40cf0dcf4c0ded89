// Makes forms kinder to wet gloves: one tap sends once, and what was tapped without a connection is sent when it is back.
"use strict";

window.forms = (() => {
  const RETRY_MS = 3000;
  const TRY_MS = 15000;
  const TRY_PHOTOS_MS = 300000; // several megabytes over a weak connection
  const SLOW_MS = 3000;
  const PROXY_LOST = [502, 504];
  const MOST_PHOTOS = 8, MOST_MB = 20; // as the service takes them: it would turn more away only after it was all sent
  const formWords = document.getElementById("form-words").dataset;
  let mine = null; // what was tapped last on this page: its form, button and entry
  let touched = false; // since then
  let leaving = false; // to where it was recorded

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-once]") || form.dataset.plainly) return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    const much = tooMuch(form);
    if (much) { event.preventDefault(); say(form, much); return; }
    form.dataset.sent = "yes"; // the key in the form guards too; this spares the second trip
    if (!form.matches("[data-waits], [data-keep]")) return;
    event.preventDefault();
    if (window.waiting && form.elements.namedItem("key")) keep(form, event.submitter);
    else send(form, event.submitter, Date.now());
  });

  window.addEventListener("pageshow", () => {
    leaving = false;
    for (const form of document.querySelectorAll("[data-sent]")) { delete form.dataset.sent; delete form.dataset.plainly; }
  });
  document.addEventListener("input", () => { touched = true; });

  const filled = (words, values) => words.replace(/\{(\w+)\}/g, (_, name) => values[name]);

  function tooMuch(form) {
    const photos = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    const heavy = photos.find((photo) => photo.size > MOST_MB * 1e6);
    if (heavy) return filled(formWords.heavy, { name: heavy.name, size: (heavy.size / 1e6).toFixed(1), most: MOST_MB });
    return photos.length > MOST_PHOTOS ? filled(formWords.many, { number: photos.length, most: MOST_PHOTOS }) : "";
  }

  // kept on the phone first, then sent

  async function keep(form, button) {
    const entry = entryOf(form, button, Date.now()), before = mine;
    mine = { form, button, entry };
    touched = false;
    if (form.enctype === "multipart/form-data") say(form, formWords.sending);
    const kept = await waiting.keep(entry);
    if (kept === "yes") {
      waiting.send();
      setTimeout(() => { if (mine.entry === entry && form.dataset.sent) freed(form, entry); }, SLOW_MS); // nobody's next tap is lost
      return;
    }
    if (kept === "already") { mine = before; say(form, formWords.already); delete form.dataset.sent; return; }
    if (kept === "heavy") { say(form, formWords.open); send(form, button, entry.tapped); return; }
    plainly(form, button);
  }

  function entryOf(form, button, tapped) {
    const fields = [...new FormData(form, button)].filter(([, value]) => !(value instanceof File) || value.size || value.name);
    const path = new URL(form.action).pathname;
    return {
      key: form.elements.namedItem("key").value,
      action: path,
      multipart: form.enctype === "multipart/form-data",
      fields,
      about: about(form, path, fields),
      label: form.dataset.waits || [document.querySelector("h1")?.innerText, (button || form.querySelector("button")).innerText.split("\n")[0]].filter(Boolean).join(": "),
      tapped,
      madeAt: form.dataset.madeAt || new Date(shopClock.at(tapped)).toISOString(),
      waited: Boolean(form.dataset.madeAt),
    };
  }

  // Which moulds (or tanks) it is about: from where it is sent, and from what is ticked where several are dipped together.
  function about(form, path, fields) {
    if (form.dataset.about) return form.dataset.about.split(" ");
    const [first, second] = path.split("/").slice(1);
    const own = /^\d+$/.test(second) ? `${first}/${second}` : first;
    const moulds = fields.map(([name]) => /^dip_(\d+)$/.exec(name)).filter(Boolean).map(([, id]) => `mould/${id}`);
    return moulds.length ? moulds : [own]; // a session is about its moulds alone: one refused holds no others up
  }

  function plainly(form, button) {
    form.dataset.plainly = "yes"; // sent the plain way, so that the browser shows the page that answers
    form.requestSubmit(button);
  }

  if (window.waiting) {
    const of = (entry, act) => { if (mine && mine.entry.key === entry.key && mine.form.isConnected) act(mine); };
    waiting.on("recorded", ({ entry, where }) => of(entry, () => { if (!touched) { leaving = true; location.assign(where); } }));
    waiting.on("refused", (entry) => of(entry, ({ form, button }) => { if (!entry.waited && entry.refused && !touched) plainly(form, button); }));
    waiting.on("waits", (entry) => of(entry, ({ form }) => { if (form.dataset.sent) freed(form, entry); }));
    waiting.all().then(arrived, () => {});
  }

  // The form of what waits now can be used for something else.
  function freed(form, entry) {
    const words = { key: formWords.key, later: formWords.held, lost: formWords.waits }[entry.why] || formWords.slow;
    say(form, filled(words, { time: shopClock.words(Date.parse(entry.madeAt)) }));
    newKey(form);
    if (!touched) form.reset();
    touched = false;
    delete form.dataset.sent;
  }

  function newKey(form) {
    const key = form.elements.namedItem("key");
    if (key) key.value = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    delete form.dataset.madeAt;
  }

  // A refused entry's form came back with why: put right, it keeps its time. One refused at once needs no place in the list.
  async function arrived(entries) {
    const forms = [...document.forms].filter((form) => form.elements.namedItem("key"));
    for (const entry of entries.filter((entry) => entry.refused)) {
      const form = forms.find((form) => form.elements.namedItem("key").value === entry.key);
      if (form && !entry.waited) await phoneStore.drop("entries", entry.number);
      else if (form) {
        form.dataset.madeAt = entry.madeAt;
        say(form, filled(formWords.made, { time: shopClock.dated(Date.parse(entry.madeAt)) }));
      }
    }
  }

  // sent from this page alone, where it cannot be kept

  async function send(form, button, tapped) {
    const photos = form.enctype === "multipart/form-data";
    const fields = photos ? new FormData(form, button) : new URLSearchParams(new FormData(form, button));
    for (;;) {
      const late = window.shopClock && Date.now() - tapped > RETRY_MS;
      const address = late ? `${form.action}?made_at=${new Date(shopClock.at(tapped)).toISOString()}` : form.action;
      const answer = await post(address, fields, photos ? TRY_PHOTOS_MS : TRY_MS);
      if (answer && answer.redirected) { location.assign(answer.url); return; }
      if (answer && !PROXY_LOST.includes(answer.status)) break;
      const seconds = Math.round((Date.now() - tapped) / 1000);
      say(form, filled(formWords.lost, { seconds }));
      await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
    }
    plainly(form, button);
  }

  async function post(address, fields, patience) {
    try {
      return await fetch(address, { method: "POST", body: fields, signal: AbortSignal.timeout(patience) });
    } catch (lost) {
      return null; // no connection
    }
  }

  function say(form, words) {
    let line = form.querySelector(".waiting");
    if (!line) {
      line = document.createElement("p");
      line.className = "waiting problem";
      line.setAttribute("role", "alert");
      form.append(line);
    }
    line.textContent = words;
  }

  return { newKey, leaving: () => leaving };
})();
