"""A shift on a bad connection, by chance: at its end the ledger holds each entry once, in order for each mould."""

from __future__ import annotations

import random
import time
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.clock import FakeClock
from service.records.facts import CheckBody, NoteBody
from tests.api.browser import Served, until
from tests.api.lossy import Line, Lossy
from tests.api.phone_in_shed import HOST, bar, entries, fill, in_page, keep_pages, phone_in_shed
from tests.api.test_browser import text

pytestmark = pytest.mark.browser

SEED, STEPS, MOULDS = 20251211, 24, (1, 2, 3)


def go_to(driver: Any, number: int) -> None:
    """By the links, as a hand does: over the list."""
    for path in ("/moulds", f"/mould/{number}"):
        until(lambda path=path: driver.execute_script(GO, path))  # type: ignore[misc]


GO = """
const link = document.querySelector(`a[href="${arguments[0]}"]`);
if (location.pathname === arguments[0] && document.readyState === "complete") return true;
if (link) link.click();
return false;
"""


def told(shop: FakeShop, number: int) -> list[str]:
    bodies = [fact.body for fact in shop.records.facts(number)]
    return [
        b.text if isinstance(b, NoteBody) else b.verdict
        for b in bodies
        if isinstance(b, NoteBody | CheckBody)
    ]


def test_each_entry_once_and_in_order() -> None:
    chance, shop = random.Random(SEED), FakeShop.saltmarsh(FakeClock(START), len(MOULDS))
    made: dict[int, list[str]] = {number: [] for number in MOULDS}
    before = {number: told(shop, number) for number in MOULDS}
    with Served(shop, HOST) as served, Lossy(served.port) as line, phone_in_shed() as phone:
        phone.get(f"http://{HOST}:{line.port}/moulds")
        keep_pages(phone)
        for step in range(STEPS):
            line.become(chance.choices(list(Line), [2, 3, 2])[0])
            number = chance.choice(MOULDS)
            go_to(phone, number)
            until(lambda: phone.execute_script("return typeof keptPages") == "object")
            made[number].append(f"note {step}")
            fill(phone, "/note", "Keep the note", text=f"note {step}")
            until(lambda step=step: step_is_kept(phone, shop, f"note {step}"))  # type: ignore[misc]
            until(lambda: settled(phone, line))
            if chance.random() < 0.3:
                line.become(Line.WHOLE)
                phone.get(f"http://{HOST}:{line.port}/mould/{chance.choice(MOULDS)}")
        line.become(Line.WHOLE)
        until(lambda: in_page(phone, "waiting.send().then(waiting.all)") == [], 20)
        assert line.lost > 0
        assert "waits" not in bar(phone)
        assert entries(phone) == []
        assert text(phone)
        shop.changes.closing = True
    assert {number: told(shop, number)[len(before[number]) :] for number in MOULDS} == made


def settled(driver: Any, line: Lossy) -> bool:
    """What was taken in is shown: a page that is cut off while it loads is the browser's own affair, not the shop's."""
    if line.is_whole and entries(driver):
        return False
    time.sleep(0.1)
    return bool(driver.execute_script("return document.readyState === 'complete' && !forms.leaving()"))


def step_is_kept(driver: Any, shop: FakeShop, words: str) -> bool:
    """It is on the phone or in the ledger: from then on nothing may lose it."""
    there = any(words in told(shop, number) for number in MOULDS)
    return there or any(["text", words] in entry["fields"] for entry in entries(driver))
