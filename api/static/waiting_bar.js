// Shows what waits on this phone: a bar at the foot of every page, with a list to put right or throw away.
"use strict";

(() => {
  const bar = document.getElementById("waiting"), words = bar.dataset;
  const list = bar.querySelector("ol"), line = bar.querySelector("[data-line]"), model = bar.querySelector("template");
  const SHORT_MS = 1500; // what goes within this never waited
  const SEEN_MS = 60000;
  const RECORDED = "coatbell recorded"; // over a page loaded anew, which sending may well bring
  let trying = null;

  // What waited and is recorded since a minute ago, in words.
  function recorded(more) {
    try {
      const known = JSON.parse(sessionStorage.getItem(RECORDED) || "[]").filter(({ at }) => Date.now() - at < SEEN_MS);
      if (more) sessionStorage.setItem(RECORDED, JSON.stringify([...known, { at: Date.now(), what: more }]));
      return known.map(({ what }) => what).join("; ");
    } catch (closed) { return ""; }
  }

  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const named = (entry) => fill(words.named, { what: entry.label, time: shopClock.dated(Date.parse(entry.madeAt)) });

  const wantsKey = (entry) => !entry.refused && entry.why === "key";

  async function draw() {
    if (!await waiting.usable) { show(words.nothing); bar.classList.add("plain"); return; }
    const entries = (await waiting.all()).filter((entry) => entry.waited || Date.now() - entry.tapped > SHORT_MS);
    const refused = entries.filter((entry) => entry.refused), waits = entries.length - refused.length;
    bar.classList.toggle("refused", refused.length > 0);
    bar.classList.toggle("plain", !entries.length);
    list.replaceChildren(...entries.map(row));
    mark(entries);
    bar.querySelector("[data-do=try]").hidden = !waits;
    if (refused.length) show(fill(refused.length > 1 ? words.refusedMany : words.refusedOne, { number: refused.length, what: refused.map(named).join("; ") }));
    else if (entries.some(wantsKey)) show(fill(words.key, { number: waits }), true);
    else if (waits) show(fill(waits > 1 ? words.many : words.one, { number: waits, what: entries.map(named).join("; ") }));
    else if (recorded()) { show(fill(words.recorded, { what: recorded() })); setTimeout(redraw, SEEN_MS); }
    else bar.hidden = true;
    bar.querySelector("[data-key]").hidden = !entries.some(wantsKey);
    document.body.classList.toggle("with-waiting", !bar.hidden);
  }

  function show(text) {
    bar.hidden = false;
    if (line.textContent !== text) line.textContent = text;
  }

  function row(entry) {
    const item = model.content.cloneNode(true).firstElementChild;
    item.dataset.number = entry.number;
    item.querySelector("[data-what]").textContent = named(entry);
    item.querySelector("[data-why]").textContent = entry.words ? `${entry.words.message} ${entry.words.todo || ""}` : trying === entry.number ? words.trying : words.later;
    item.querySelector("[data-do=right]").hidden = !entry.refused;
    return item;
  }

  // On the page of a mould it stands beside the state, which knows nothing of it yet.
  function mark(entries) {
    for (const old of document.querySelectorAll(".waits-here")) old.remove();
    const here = location.pathname.slice(1), place = document.getElementById("live") || document.querySelector("main");
    for (const entry of entries.filter((entry) => entry.about.includes(here))) {
      const note = Object.assign(document.createElement("p"), { className: "notice waits-here", textContent: fill(words.here, { what: named(entry) }) });
      place.after(note);
    }
  }

  list.addEventListener("click", async ({ target }) => {
    const button = target.closest("button"), item = target.closest("li");
    if (!button) return;
    const number = Number(item.dataset.number), sure = item.querySelector("[data-sure]");
    if (button.dataset.do === "right") {
      const entry = await waiting.putRight(number);
      if (entry && !entry.refused) draw();
    }
    if (button.dataset.do === "throw") { sure.hidden = false; sure.querySelector("button").focus(); }
    if (button.dataset.do === "keep") { sure.hidden = true; }
    if (button.dataset.do === "gone") { await waiting.throwAway(number); }
  });
  bar.querySelector("[data-do=try]").addEventListener("click", () => waiting.send());
  bar.querySelector("[data-key] a").href = `/key?to=${encodeURIComponent(location.pathname)}`;

  const asking = () => Boolean(list.querySelector("[data-sure]:not([hidden])")); // nobody's finger must meet another button
  const redraw = () => { if (!asking()) draw(); };
  waiting.on("recorded", ({ entry }) => { if (entry.waited) recorded(named(entry)); draw(); });
  waiting.on("trying", (entry) => { trying = entry.number; });
  waiting.on("changed", () => setTimeout(redraw, SHORT_MS + 100));
  for (const name of ["changed", "refused", "waits"]) waiting.on(name, () => { trying = null; draw(); });
  waiting.on("elsewhere", redraw);
  document.addEventListener("kept", redraw);
  window.addEventListener("pageshow", draw);
})();
