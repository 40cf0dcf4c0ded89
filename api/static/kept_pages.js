// Keeps the pages of the moulds that hang and of the tanks they want, so that one can go from mould to mould and record while
// there is no connection.
// A page from here always says how old it is. On plain http it is shown within the page that is open; see sw.js for the rest.
"use strict";

window.keptPages = (() => {
  const words = document.getElementById("kept-words").dataset;
  const AGAIN_MS = 600000, ROUND_MS = 60000, FIRST_MS = 3000, BETWEEN_MS = 150;
  const MOST = 80, LARGEST = 400000;
  const REACH_MS = 3000, LOOK_MS = 5000;
  const LISTS = { "/moulds": /^\/mould\/\d+$/, "/dipping": /^\/dipping\?tank=/ }; // and what is kept of the pages they lead to
  const STAYS = "script, template, [data-stays]";
  const phone = matchMedia("(pointer: coarse)").matches; // a screen on the wall opens no other page
  let shown = null, touched = false;

  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
  const parsed = (html) => new DOMParser().parseFromString(html, "text/html");

  // kept, quietly, while there is a connection

  // What a page is kept as: of an address's search only the tank counts.
  function named(address) {
    const tank = address.pathname === "/dipping" && address.searchParams.get("tank");
    return tank ? `/dipping?tank=${encodeURIComponent(tank)}` : address.pathname;
  }

  async function take(path) {
    const answer = await fetch(path, { signal: AbortSignal.timeout(REACH_MS * 3) });
    const html = await answer.text();
    if (answer.status === 404) await phoneStore.drop("pages", path);
    if (!answer.ok || answer.redirected || html.length > LARGEST) return "";
    const at = shopClock.now();
    await phoneStore.put("pages", { path, html, at, policy: answer.headers.get("Content-Security-Policy"), said: fill(words.said, { time: shopClock.dated(at) }) });
    return html;
  }

  async function round() {
    if (document.hidden || shown) return;
    const kept = new Map((await phoneStore.all("pages")).map((page) => [page.path, page]));
    const old = (path, after = AGAIN_MS) => !kept.has(path) || Math.abs(shopClock.now() - kept.get(path).at) > after;
    const fixed = words.pages.split(" ");
    const leads = [];
    let all = true;
    for (const path of Object.keys(LISTS)) {
      const list = old(path, ROUND_MS) ? await take(path) : kept.get(path).html;
      leads.push(...linked(list, LISTS[path]).slice(0, MOST));
      all = all && Boolean(list);
    }
    const wanted = [...fixed, ...leads];
    for (const path of wanted.filter((path) => old(path) && !(path in LISTS))) { await take(path); await pause(BETWEEN_MS); }
    if (all) for (const path of kept.keys()) if (!wanted.includes(path)) await phoneStore.drop("pages", path);
  }

  function linked(html, pattern) {
    const hrefs = [...parsed(html).querySelectorAll("main a[href]")].map((link) => link.getAttribute("href"));
    return [...new Set(hrefs.filter((href) => pattern.test(href)).map((href) => named(new URL(href, location.origin))))];
  }

  const quietly = () => round().catch(() => {}); // the next round is soon

  // shown, where the page itself cannot be loaded

  async function reaches() {
    try {
      await fetch("/sw.js", { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(REACH_MS) });
      return true; // whatever the answer
    } catch (lost) {
      return false;
    }
  }

  async function go(address, back = false) {
    if (await reaches()) { back ? location.reload() : location.assign(address); return; }
    const page = await phoneStore.get("pages", named(address));
    if (!page) { missing(); return; }
    if (!back) history.pushState(null, "", named(address) + address.hash);
    show(page);
  }

  function missing() {
    document.querySelector(".kept-missing")?.remove();
    const line = Object.assign(document.createElement("p"), { className: "problem kept-missing", textContent: words.missing });
    line.setAttribute("role", "alert");
    document.querySelector("main, #live").prepend(line);
    line.scrollIntoView({ block: "center" });
  }

  function show(page) {
    const from = parsed(page.html);
    for (const part of from.querySelectorAll(STAYS)) part.remove();
    for (const part of [...document.body.children]) if (!part.matches(STAYS)) part.remove();
    document.body.prepend(...[...from.body.childNodes].map((part) => document.adoptNode(part)));
    document.body.className = from.body.className;
    document.title = from.title;
    scrollTo(0, 0);
    old(page.at);
  }

  // Says of the page that is open how old it is, on each drawing too.
  function old(at) {
    shown = { at };
    touched = false;
    document.body.classList.add("kept");
    document.querySelector(".kept-banner")?.remove();
    document.body.prepend(document.getElementById("kept-words").content.cloneNode(true));
    const time = shopClock.dated(at);
    for (const drawn of document.querySelectorAll(".drawing, .strip, .rail-box, .wall-room, figure")) drawn.dataset.asOf = fill(words.asOf, { time });
    for (const form of document.forms) forms.newKey(form); // each shown anew is a form of its own
    document.querySelector(".kept-banner button").addEventListener("click", () => go(new URL(location), true));
    age();
    document.dispatchEvent(new Event("kept"));
  }

  function age() {
    const minutes = Math.max(0, Math.round((shopClock.now() - shown.at) / 60000));
    const long = minutes < 120 ? fill(words.minutes, { number: minutes }) : fill(words.hours, { number: Math.round(minutes / 60) });
    document.querySelector(".kept-banner [data-age]").textContent = fill(words.age, { time: shopClock.dated(shown.at), long });
  }

  async function look() {
    if (!shown) return;
    age();
    if (!await reaches()) return;
    await waiting.send();
    if (forms.leaving()) return;
    if (!touched) location.reload();
    else document.querySelector(".kept-banner [data-age]").textContent = words.back;
  }

  function ours(event) {
    const link = event.target.closest?.("a[href]");
    if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || link.target || link.hasAttribute("download")) return null;
    const address = new URL(link.href);
    const other = address.origin === location.origin && (address.pathname !== location.pathname || address.search !== location.search);
    return other ? address : null;
  }

  async function begin() {
    const at = Number(document.documentElement.dataset.kept || 0); // the worker took it out of the store
    if (at) old(at);
    if (!phone || !await phoneStore.usable) return;
    document.addEventListener("click", (event) => {
      const address = ours(event);
      if (!address) return;
      event.preventDefault(); // asked for first: a browser that finds nothing shows a page with no way back
      go(address);
    });
    window.addEventListener("popstate", () => { if (shown) go(new URL(location), true); });
    window.addEventListener("online", look);
    document.addEventListener("input", () => { touched = true; });
    waiting.on("recorded", ({ where }) => { take(named(new URL(where, location.href))).catch(() => {}); });
    setInterval(look, LOOK_MS);
    setInterval(quietly, ROUND_MS);
    setTimeout(quietly, FIRST_MS);
    if (window.isSecureContext && "serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js", { scope: "/" }).catch(() => {});
  }
  begin();

  return { round, take, shown: () => shown };
})();
