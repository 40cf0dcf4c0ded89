"""Asks axe-core (Deque) what bars people from a page, by the Web Content Accessibility Guidelines up to 2.2 AA."""

from __future__ import annotations

from functools import cache
from typing import Any

from tests.parts import need_file

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"]
RUN = """
const done = arguments[arguments.length - 1];
axe.run(document, {runOnly: {type: arguments[0], values: arguments[1]}}).then(
  (found) => done(found.violations.map((v) => [v.id, v.help, v.nodes.map((n) => n.html)])),
  (error) => done([["axe itself", String(error), []]]));
"""


def barriers(driver: Any, rules: list[str] | None = None) -> list[str]:
    """What bars people from the page the browser shows, one line each; empty where nothing does.

    rules: only these are looked at, by their names in axe.
    """
    driver.execute_script(_axe())
    found: list[tuple[str, str, list[str]]] = driver.execute_async_script(
        RUN, "rule" if rules else "tag", rules or TAGS
    )
    return [f"{rule}: {words}: {html[:160]}" for rule, words, nodes in found for html in nodes or [""]]


@cache
def _axe() -> str:
    return need_file("axe_playwright_python", "axe.min.js").read_text(encoding="utf-8")
