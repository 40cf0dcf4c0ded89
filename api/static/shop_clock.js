// The shop's clock as this phone knows it: from the page when it came, then from each beat. The phone's own may be wrong.
"use strict";

window.shopClock = (() => {
  const KEPT = "coatbell clock";
  const page = document.getElementById("waiting").dataset;
  const old = "kept" in document.documentElement.dataset; // a page from the phone's store: its time is long past
  let known = { ...recall(), zone: page.zone, hours: page.hours };
  if (!old) hear(Number(page.now));

  function recall() {
    try { return { shop: Date.now(), phone: Date.now(), speed: 1, ...JSON.parse(localStorage.getItem(KEPT)) }; }
    catch (closed) { return { shop: Date.now(), phone: Date.now(), speed: 1 }; }
  }

  function hear(shop, speed = known.speed) {
    known = { ...known, shop, speed, phone: Date.now() };
    try { localStorage.setItem(KEPT, JSON.stringify(known)); }
    catch (closed) { /* then it is known on this page alone */ }
  }

  // What the shop's clock shows at a time of this phone's, both in ms.
  const at = (phone) => known.shop + (phone - known.phone) * known.speed;
  const now = () => at(Date.now());

  function format(ms, more) {
    const twelve = known.hours === "12";
    return new Intl.DateTimeFormat(page.language || "en-GB", { hour: twelve ? "numeric" : "2-digit", minute: "2-digit", timeZone: known.zone, hour12: twelve, ...more }).format(ms);
  }

  const words = (ms) => format(ms, {});
  const DAY = { day: "numeric", month: "short" };
  // With its day where that is another than today.
  const dated = (ms) => (format(ms, DAY).slice(0, 6) === format(now(), DAY).slice(0, 6) ? words(ms) : format(ms, { weekday: "short", ...DAY }));

  return { hear, at, now, words, dated };
})();
