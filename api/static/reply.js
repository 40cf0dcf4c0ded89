// Says at once what the link that was tapped stands for: a person needs no second tap. A page nobody looks at says nothing.
"use strict";

const tapped = document.querySelector("[data-at-once]");

function sayOnceSeen() {
  if (document.visibilityState !== "visible" || document.prerendering) return;
  document.removeEventListener("visibilitychange", sayOnceSeen);
  if (!tapped.dataset.sent) tapped.requestSubmit(tapped.querySelector("button"));
}

if (tapped) {
  document.addEventListener("visibilitychange", sayOnceSeen);
  document.addEventListener("prerenderingchange", sayOnceSeen);
  sayOnceSeen();
}
