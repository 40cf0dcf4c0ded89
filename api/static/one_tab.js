// Lets one tab of this phone work at a time. With a lock of the browser's where it has them (https), else with a lease in the store.
"use strict";

window.oneTab = (() => {
  const NAME = "sending", SHORT_MS = 10000, LONGEST_MS = 400000;
  const busy = Symbol("busy");

  // The same for each page of a tab, so that the next page goes on at once where the one before was left.
  function mark() {
    const made = String(Math.random()).slice(2);
    try {
      const kept = sessionStorage.getItem("coatbell tab") || made;
      sessionStorage.setItem("coatbell tab", kept);
      return kept;
    } catch (closed) { return made; }
  }
  const me = mark();

  async function lease(ms) {
    const now = Date.now();
    const held = await phoneStore.change("notes", NAME, (held) => {
      const free = !held || held.me === me || held.until < now || held.until > now + LONGEST_MS; // a clock may be set back
      return free ? { name: NAME, me, until: now + ms } : held;
    });
    return held.me === me;
  }

  // What `work` gives, or `busy` where another tab is at it. It says beforehand how long each step may take.
  async function only(work) {
    if (navigator.locks) return navigator.locks.request(NAME, { ifAvailable: true }, (lock) => (lock ? work(async () => true) : busy));
    if (!await lease(SHORT_MS)) return busy;
    try { return await work((ms) => lease(ms + SHORT_MS)); }
    finally { await lease(0); }
  }

  return { only, busy };
})();
