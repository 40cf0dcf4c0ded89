// Turns the pages of what comes where not all of it finds room; what is due, and what comes first, stays on every page.
"use strict";

(() => {
  const TURN_MS = 15000;
  const HELD_MS = 120000; // whoever touches a key or the screen wants to read
  const TIGHTEST = 5;
  const live = document.getElementById("live");
  const wide = matchMedia("(min-width: 900px)");
  let pages = [], page = 0, heldUntil = 0, turned = Date.now();

  document.documentElement.dataset.turns = "";

  const over = (box) => box.scrollHeight > box.clientHeight + 1;
  const rows = () => [...live.querySelectorAll(".rows > .row")];
  const label = () => live.querySelector(".turn");

  /** What is due always finds room: the more it is, the tighter it stands, step upon step. */
  function fit() {
    const jobs = live.querySelector(".jobs"), first = live.querySelector(".first");
    if (!jobs) return;
    for (let step = 1; step <= TIGHTEST; step++) jobs.classList.remove(`tight${step}`);
    for (let step = 1; step <= TIGHTEST && wide.matches && (over(first) || over(jobs)); step++) jobs.classList.add(`tight${step}`);
  }

  /** Which rows share a page: as many as find room beside those that stay. */
  function lay() {
    fit();
    const list = live.querySelector(".rows"), all = rows();
    for (const row of all) row.hidden = false;
    pages = [];
    if (!list) return;
    label().hidden = true;
    list.classList.remove("dense", "terse");
    if (!wide.matches || !over(list)) return;
    list.classList.add("terse");
    if (!over(list)) return;
    label().hidden = false;
    say();
    const turning = all.filter((row) => !("stays" in row.dataset));
    for (const row of turning) row.hidden = true;
    list.classList.toggle("dense", over(list)); // even what stays is more than finds room
    for (const row of turning) {
      row.hidden = false;
      if (!pages.length || over(list)) {
        for (const before of pages.at(-1) ?? []) before.hidden = true;
        pages.push([]);
      }
      pages.at(-1).push(row);
    }
    show(Math.min(page, pages.length - 1));
  }

  function show(wanted) {
    page = wanted;
    pages.forEach((some, i) => { for (const row of some) row.hidden = i !== page; });
    say();
  }

  function say() {
    const { words, held } = label().dataset;
    const text = Date.now() < heldUntil ? held : words;
    label().textContent = text.replace("{page}", page + 1).replace("{pages}", pages.length);
  }

  function turn(by) {
    turned = Date.now();
    if (pages.length > 1) show((page + by + pages.length) % pages.length);
  }

  function hold() {
    heldUntil = Date.now() + HELD_MS;
    if (pages.length > 1) say();
  }

  function tick() {
    if (Date.now() < heldUntil || pages.length < 2) { turned = Date.now(); return; }
    if (Date.now() - turned >= TURN_MS) turn(1);
  }

  const KEYS = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1 };

  addEventListener("keydown", (event) => { hold(); if (event.key in KEYS) turn(KEYS[event.key]); });
  addEventListener("pointerdown", hold);
  live.addEventListener("click", (event) => { if (event.target.closest(".turn")) turn(1); });
  addEventListener("resize", lay);
  new MutationObserver(lay).observe(live, { childList: true }); // a new state came
  document.fonts.ready.then(lay);
  lay();
  setInterval(tick, 500);
})();
