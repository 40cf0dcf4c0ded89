"""A phone on the shop's plain http, where the connection comes and goes. No service worker lives there."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.api.browser import browser, until

HOST = "shed.test"
PHONE = (360, 740)
MAPPED = f"--host-resolver-rules=MAP {HOST} 127.0.0.1"
UNFOLD = """
const unfold = (part) => {
  for (let fold = part.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
};
"""
FILL = """
const [action, fields, words] = arguments;
const form = [...document.forms].find((form) => new URL(form.action).pathname.endsWith(action));
if (form.dataset.sent) return false;
unfold(form);
for (const [name, value] of Object.entries(fields)) form.querySelector(`[name="${name}"]:not(button)`).value = value;
[...form.querySelectorAll("button")].find((button) => button.innerText.startsWith(words)).click();
return true;
"""

BAR = """
const bar = document.getElementById("waiting");
return bar.hidden ? "" : bar.querySelector("[data-line]").innerText;
"""


@contextmanager
def phone_in_shed() -> Iterator[Any]:
    """To this browser the shop's host is a machine elsewhere, as to a phone: not secure, so no worker, no locks."""
    with browser(*PHONE, phone=True, more=[MAPPED]) as driver:
        yield driver


def cut(driver: Any, off: bool = True) -> None:
    """The phone itself has no network."""
    how = {"offline": off, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    driver.execute_cdp_cmd("Network.enable", {})
    driver.execute_cdp_cmd("Network.emulateNetworkConditions", how)


def in_page(driver: Any, work: str) -> Any:
    """What an expression in the page gives, waited for."""
    return driver.execute_async_script(
        f"const done = arguments[arguments.length - 1]; ({work}).then(done, (e) => done(String(e)))"
    )


def fill(driver: Any, action: str, words: str, **fields: str) -> None:
    """Fill in the form that is sent to an address ending so, and press its button, once it can be used."""
    until(lambda: driver.execute_script(UNFOLD + FILL, action, fields, words))


def unfold(driver: Any, css: str) -> None:
    """Open what a part of the page is folded away in."""
    driver.execute_script(UNFOLD + "unfold(document.querySelector(arguments[0]));", css)


def entries(driver: Any) -> list[dict[str, Any]]:
    """What waits on the phone, as it is kept."""
    found: list[dict[str, Any]] = in_page(driver, "waiting.all()")
    return found


def bar(driver: Any) -> str:
    """What the bar at the foot says; empty where there is none."""
    return str(driver.execute_script(BAR))


def keep_pages(driver: Any) -> None:
    """Have the pages kept now, as a page does after some seconds by itself."""
    in_page(driver, "keptPages.round()")


def tap(driver: Any, css: str) -> None:
    until(lambda: driver.find_element("css selector", css).is_displayed())
    driver.execute_script("document.querySelector(arguments[0]).click()", css)
