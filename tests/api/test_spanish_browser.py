"""Every page of a shop that speaks Spanish, on a phone: no English is left, and nothing is wider than the screen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from service.clock import FakeClock
from service.voice import Language
from tests.api.browser import Served, browser, faults
from tests.api.conftest import client_of
from tests.left_over import english_in

pytestmark = pytest.mark.browser

SPOKEN = Language.SPANISH
PHONE = (360, 640)
BEGIN = ("/", "/moulds", "/dipping", "/set-up", "/start", "/start/site", "/failures", "/nowhere")
ELSEWHERE = ("/api/", "/photos/", "/calendar/", "/static/")
"""For programs, or files."""
ALIKE = re.compile(r"=[^&]*|\d+|(?<=/set-up/times/)\w+|(?<=/recipes/)(?!new|copy)[^/]+")
"""Pages that differ only in this are one."""
READ = """
for (const more of document.querySelectorAll("details")) more.open = true;
const attributes = ["aria-label", "title", "placeholder", "alt"];
const told = [...document.querySelectorAll(attributes.map((name) => `[${name}]`).join())];
return [
  document.title,
  document.body.innerText,
  ...told.flatMap((part) => attributes.map((name) => part.getAttribute(name) || "")),
  ...[...document.querySelectorAll("option, svg text, svg title, template")].map((part) => part.innerHTML),
].join("\\n");
"""
LINKS = "return [...document.querySelectorAll('a[href]')].map((link) => link.getAttribute('href'))"
TOO_WIDE = "return document.documentElement.scrollWidth > innerWidth"
POSTED = re.compile(r'<form method="post" action="(/[^"]+)"')


@pytest.fixture(scope="module")
def shop() -> FakeShop:
    shop = FakeShop.saltmarsh(FakeClock(START))
    shop.save_site(replace(SALTMARSH, language=SPOKEN))
    return shop


@pytest.fixture(scope="module")
def walked(shop: FakeShop) -> Iterator[dict[str, Any]]:
    """What each page shows, and whether it is too wide, by its address."""
    with browser(*PHONE, phone=True) as phone, Served(shop) as served:
        reply = shop.link(shop.ring(3))
        found = dict(_walk(phone, served.address, [*BEGIN, reply]))
        assert [fault for fault in faults(phone) if "/nowhere" not in fault] == []
        yield found
        shop.changes.closing = True


def _walk(phone: Any, address: str, begin: list[str]) -> Iterator[tuple[str, tuple[str, bool]]]:
    open_, seen = begin, set[str]()
    for path in open_:
        kind = ALIKE.sub("", path.partition("#")[0])
        if kind in seen:
            continue
        seen.add(kind)
        phone.get(f"{address}{path}")
        yield path, (phone.execute_script(READ), phone.execute_script(TOO_WIDE))
        links = phone.execute_script(LINKS)
        open_ += [link for link in links if link.startswith("/") and not link.startswith(ELSEWHERE)]


def test_every_page_was_found(walked: dict[str, Any]) -> None:
    assert {"/air", "/tanks", "/labels", "/messages", "/yours", "/dipping", "/records"} <= walked.keys()
    assert {path.rpartition("/")[2] for path in walked} >= {"audit", "move", "change", "sensors", "people"}


def test_no_english_is_left_on_any(walked: dict[str, Any]) -> None:
    left = {path: english_in(text, SPOKEN) for path, (text, _) in walked.items()}
    assert {path: words for path, words in left.items() if words} == {}


def test_none_scrolls_sideways(walked: dict[str, Any]) -> None:
    assert [path for path, (_, wide) in walked.items() if wide] == []


def test_no_complaint_of_a_form_is_in_english(walked: dict[str, Any], shop: FakeShop) -> None:
    """Each form of each page, sent with nothing in it."""
    client = client_of(shop)
    pages = [client.get(path.partition("#")[0]).text for path in walked if path != "/nowhere"]
    actions = sorted({action for page in pages for action in POSTED.findall(page)})
    assert len(actions) > 15
    told = {action: client.post(action, data={"key": f"empty {action}"[:60]}) for action in actions}
    assert {action for action, answer in told.items() if answer.status_code >= 500} == set()
    left = {action: english_in(answer.text, SPOKEN) for action, answer in told.items()}
    assert {action: words for action, words in left.items() if words} == {}


def test_english_would_be_seen() -> None:
    whole = "Nothing already recorded is lost. Try once more; the log says what happened."
    assert english_in(f"Ay. {whole}", SPOKEN) == {whole}
    assert english_in("Ay. No se perdió nada de lo registrado.", SPOKEN) == set()
