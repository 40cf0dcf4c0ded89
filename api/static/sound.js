// The board's bell: strikes for a call that is new, again every few minutes while nobody comes, otherwise if it cannot wait.
"use strict";

window.sounder = (() => {
  const KEPT = "coatbell sound";
  const PATIENCE_MS = 1000; // a browser that wants a tap first leaves the sound asleep, and says nothing
  // a struck bell: partials of a real one are not whole multiples
  const PARTIALS = [[0.5, 0.5, 4.0], [1, 0.7, 3.2], [1.2, 0.5, 2.4], [1.5, 0.25, 1.8], [2, 0.45, 1.5], [2.67, 0.2, 0.9], [3.0, 0.15, 0.7]];
  const RHYTHMS = { // strokes, in seconds; shorter strokes ring on less
    fresh: { strokes: [0, 1.6], hertz: 520, long: 1 },
    again: { strokes: [0], hertz: 520, long: 0.5 },
    urgent: { strokes: [0, 0.35, 0.7, 2.2, 2.55, 2.9], hertz: 660, long: 0.4 },
  };
  const body = document.body;
  const toggle = document.getElementById("sound"), ask = document.getElementById("ask-sound"), cannot = document.getElementById("no-sound");
  const kept = recall(); // whether sound is wanted, what was called out, and when last
  let ears = null, owed = "";

  function recall() {
    const first = { wanted: false, rung: null, called: Date.now() }; // a screen's first start calls nothing out
    try { return { ...first, ...JSON.parse(localStorage.getItem(KEPT)) }; }
    catch (closed) { return first; }
  }

  function keep(changes) {
    Object.assign(kept, changes);
    try { localStorage.setItem(KEPT, JSON.stringify(kept)); }
    catch (closed) { /* a browser that keeps nothing: it asks again after the next start */ }
  }

  const awake = () => ears !== null && ears.state === "running";

  // switched on and off

  async function wake() {
    cannot.hidden = true;
    try {
      if (!ears) { ears = new AudioContext(); ears.addEventListener("statechange", () => { show(); settle(""); }); }
      await Promise.race([ears.resume(), new Promise((done) => setTimeout(done, PATIENCE_MS))]);
    } catch (mute) { ears = null; }
    show();
    return awake();
  }

  async function switchOn() {
    keep({ wanted: true });
    const before = body.dataset.strikes;
    cannot.hidden = await wake(); // after a tap nothing is left that a browser could want
    if (body.dataset.strikes === before) settle("fresh"); // the tap is answered
  }

  async function switchOff() {
    keep({ wanted: false });
    if (ears) await ears.suspend();
    cannot.hidden = true;
    show();
  }

  function show() {
    const on = kept.wanted && awake();
    toggle.setAttribute("aria-pressed", String(on));
    toggle.textContent = on ? toggle.dataset.on : toggle.dataset.off;
    ask.hidden = on || !kept.wanted;
    body.dataset.sound = on ? "on" : "off"; // for whoever checks from outside
  }

  // struck

  /** Strike what was owed while nothing could be heard, or else `greeting`. */
  function settle(greeting) {
    const rhythm = owed || greeting;
    if (!rhythm || !kept.wanted || !awake()) return;
    owed = "";
    strike(rhythm);
  }

  function strike(rhythm) {
    if (!kept.wanted || !awake()) { owed = rhythm; return; }
    const { strokes, hertz, long } = RHYTHMS[rhythm];
    for (const after of strokes) PARTIALS.forEach(([ratio, loud, rings]) => partial(hertz * ratio, loud, rings * long, after));
    body.dataset.strikes = Number(body.dataset.strikes || 0) + 1;
    body.dataset.rhythm = rhythm;
  }

  function partial(hertz, loud, long, after) {
    const tone = ears.createOscillator(), level = ears.createGain(), start = ears.currentTime + after;
    tone.frequency.value = hertz;
    level.gain.setValueAtTime(0.0001, start);
    level.gain.exponentialRampToValueAtTime(loud * 0.25, start + 0.008);
    level.gain.exponentialRampToValueAtTime(0.0001, start + long);
    tone.connect(level).connect(ears.destination);
    tone.start(start);
    tone.stop(start + long);
  }

  /** Strike for what is new; in quiet hours only for what cannot wait. */
  function heard(root, fresh) {
    const rows = [...root.querySelectorAll("[data-bell]")];
    keep({ rung: rows.map((row) => row.dataset.bell) });
    call(root, rows.filter((row) => fresh.includes(row.dataset.bell)), "fresh");
  }

  /** Call again while something waits and nobody said that they come; whether it did. `blind`: what is shown is old. */
  function tick(root, blind) {
    const passed = Date.now() - kept.called;
    const due = passed < 0 || passed >= Number(body.dataset.repeatS) * 1000; // a clock may have been put back
    return !blind && due && call(root, [...root.querySelectorAll("[data-waits][data-bell]")], "again");
  }

  function call(root, rows, rhythm) {
    const loud = rows.filter((row) => "urgent" in row.dataset || !("quiet" in root.dataset));
    if (!loud.length) return false;
    keep({ called: Date.now() });
    strike(loud.some((row) => "urgent" in row.dataset) ? "urgent" : rhythm);
    return true;
  }

  /** What this screen called out before it was loaded anew; at its first start, all that is there. */
  const rung = (now) => kept.rung ? new Set(kept.rung) : now;

  toggle.hidden = false;
  toggle.addEventListener("click", () => (kept.wanted && awake() ? switchOff() : switchOn()));
  ask.addEventListener("click", switchOn);
  show();
  if (kept.wanted) wake();
  return { heard, tick, rung };
})();
