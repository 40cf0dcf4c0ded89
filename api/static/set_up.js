// Setting up: what is heard is looked at again by itself, and what a number comes out as follows its choice at once.
"use strict";

const LOOK_MS = 4000;

async function part(address, options, selector) {
  try {
    const answer = await fetch(address, { ...options, signal: AbortSignal.timeout(LOOK_MS * 2) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    return [...page.querySelectorAll(selector)];
  } catch (lost) {
    return []; // what is shown stays; the next look may find the way
  }
}

const list = document.querySelector("main [data-live]");
if (list) setInterval(async () => {
  if (document.hidden || list.contains(document.activeElement) || list.querySelector("details[open]")) return;
  const [newest] = await part(location.pathname, {}, "main [data-live]");
  if (newest && !list.contains(document.activeElement)) list.replaceChildren(...newest.childNodes);
}, Number(list.dataset.live) || LOOK_MS);

const form = document.querySelector("form[data-look]");
if (form) form.addEventListener("change", async () => {
  const fields = new URLSearchParams(new FormData(form));
  fields.set("do", "look");
  const looked = await part(form.action, { method: "POST", body: fields }, "[data-looked]");
  const lines = new Map(looked.map((line) => [line.dataset.looked, line]));
  for (const line of form.querySelectorAll("[data-looked]")) {
    const newest = lines.get(line.dataset.looked);
    if (newest) line.replaceChildren(...newest.childNodes);
  }
});
