// Makes forms kinder to wet gloves: one tap sends once, and what was tapped without a connection is sent when it is back.
"use strict";

const RETRY_MS = 3000;
const TRY_MS = 15000;
const TRY_PHOTOS_MS = 300000; // several megabytes over a weak connection
const PROXY_LOST = [502, 504];
const MOST_PHOTOS = 8, MOST_MB = 20; // as the service takes them: it would turn more away only after it was all sent

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-once]") || form.dataset.plainly) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  const much = tooMuch(form);
  if (much) { event.preventDefault(); say(form, much); return; }
  form.dataset.sent = "yes"; // the key in the form guards too; this spares the second trip
  if (form.matches("[data-keep]")) { event.preventDefault(); send(form, event.submitter, Date.now()); }
});

window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("[data-sent]")) { delete form.dataset.sent; delete form.dataset.plainly; }
});

function tooMuch(form) {
  const photos = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  const heavy = photos.find((photo) => photo.size > MOST_MB * 1e6);
  if (heavy) return `${heavy.name} has ${(heavy.size / 1e6).toFixed(1)} MB; ${MOST_MB} MB is the most. Let the camera take smaller pictures, or choose a smaller copy.`;
  return photos.length > MOST_PHOTOS ? `Those are ${photos.length} photos. Send up to ${MOST_PHOTOS} at a time.` : "";
}

async function send(form, button, tapped) {
  const photos = form.enctype === "multipart/form-data";
  const fields = photos ? new FormData(form, button) : new URLSearchParams(new FormData(form, button));
  if (photos) say(form, "Sending. Leave this page open.");
  for (;;) {
    const answer = await post(form.action, fields, tapped, photos ? TRY_PHOTOS_MS : TRY_MS);
    if (answer && answer.redirected) { location.assign(answer.url); return; }
    if (answer && !PROXY_LOST.includes(answer.status)) break;
    const seconds = Math.round((Date.now() - tapped) / 1000);
    say(form, `Not recorded yet: no connection. Trying again, ${seconds} s since your tap. Leave this page open.`);
    await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
  }
  form.dataset.plainly = "yes"; // refused: sent once more the plain way, so that the browser shows the page that says why
  form.requestSubmit(button);
}

async function post(address, fields, tapped, patience) {
  try {
    const headers = { "X-Tapped-Ago": String((Date.now() - tapped) / 1000) };
    return await fetch(address, { method: "POST", body: fields, headers, signal: AbortSignal.timeout(patience) });
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
