// A dipping session: notes when each mould was tapped, keeps that over a reload, and says on the button how many there are.
// It is on every page, since a kept session may be shown within any of them.
"use strict";

(() => {
  const LONGEST_MS = 12 * 3600 * 1000;

  function open() {
    const session = document.getElementById("session");
    if (session) dip(session);
  }

  function dip(session) {
    const button = session.querySelector("button.main");
    const counts = JSON.parse(session.dataset.counts);
    const boxes = [...session.querySelectorAll(".toggle input[type=checkbox]")];
    const kept = `dipping ${session.elements.tank.value}`;
    const name = (box) => `${box.name} ${box.value}`; // of one coat of one mould

    let tapped = recall();

    function recall() {
      try {
        const all = Object.entries(JSON.parse(localStorage.getItem(kept)) ?? {});
        return Object.fromEntries(all.filter(([, at]) => Date.now() - at < LONGEST_MS));
      } catch (closed) {
        return {}; // a browser that keeps nothing
      }
    }

    function remember() {
      try { localStorage.setItem(kept, JSON.stringify(tapped)); } catch (closed) { /* then a reload forgets */ }
    }

    function show() {
      const ticked = boxes.filter((box) => box.checked).length;
      if (button) {
        button.textContent = counts[ticked];
        button.classList.toggle("hand", ticked > 0);
      }
      for (const box of boxes) box.closest(".toggle").classList.toggle("on", box.checked);
    }

    function begin() {
      for (const box of boxes) {
        if (box.checked) tapped[name(box)] ??= Date.now() - 1000 * Number(box.dataset.ago);
        else box.checked = name(box) in tapped;
      }
      tapped = Object.fromEntries(Object.entries(tapped).filter(([each]) => boxes.some((box) => name(box) === each)));
      remember();
      show();
    }

    session.addEventListener("change", (event) => {
      if (!boxes.includes(event.target)) return;
      if (event.target.checked) tapped[name(event.target)] = Date.now();
      else delete tapped[name(event.target)];
      remember();
      show();
    });

    session.addEventListener("formdata", (event) => { // how long before the form was sent: clocks need not agree
      for (const box of boxes) {
        const at = tapped[name(box)];
        if (box.checked && at) event.formData.set(box.name.replace("dip_", "ago_"), ((Date.now() - at) / 1000).toFixed(1));
      }
    });

    begin();
  }

  document.addEventListener("kept", open);
  open();
})();
