// Shows what the scales tell, again and again while somebody looks. The buttons beside stay as they are: their keys hold.
"use strict";

const EVERY_MS = 2000;
const scales = document.getElementById("scales");

async function renew() {
  if (document.visibilityState !== "visible" || !scales.checkVisibility()) return;
  try {
    const answer = await fetch(scales.dataset.renew, { signal: AbortSignal.timeout(5000) });
    if (!answer.ok || answer.redirected) throw new Error(answer.status);
    scales.replaceChildren(...new DOMParser().parseFromString(await answer.text(), "text/html").body.childNodes);
    scales.classList.remove("lost");
  } catch (lost) {
    scales.classList.add("lost"); // no connection: what stands there is struck out until it comes back
  }
}

if (scales) setInterval(renew, EVERY_MS); // a mould that left is not weighed any more
