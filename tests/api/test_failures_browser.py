"""What failures share, in Chromium: on a phone, on paper, and from a dot to the record behind it."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.clock import FakeClock
from tests.api.browser import Served, browser, faults
from tests.service.failures.making import shop as make

pytestmark = pytest.mark.browser

PHONE = (360, 740)
DESK = (1280, 900)
A4_IN = (8.27, 11.69)


@pytest.fixture
def shop() -> FakeShop:
    made = FakeShop.saltmarsh(FakeClock(START))
    made.shells = make(60, 9, failing=0.3, planted=True)
    return made


@pytest.fixture(scope="module")
def phone() -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


@pytest.fixture(scope="module")
def desk() -> Iterator[Any]:
    with browser(*DESK) as driver:
        yield driver


OPEN_ALL = "document.querySelectorAll('details').forEach(each => each.open = true)"
WIDE = "return document.documentElement.scrollWidth - innerWidth"


@pytest.mark.parametrize("count", [0, 3, 60, 2000])
def test_fits_a_phone_with_everything_open(shop: FakeShop, served: Served, phone: Any, count: int) -> None:
    shop.shells = make(count, 9, failing=0.3, planted=True)
    addresses = ["/failures", "/failures?within=recipe"]
    if count >= 60:
        addresses.append("/failures/run-out/early-dips")
    for address in addresses:
        phone.get(served.address + address)
        phone.execute_script(OPEN_ALL)
        assert phone.execute_script(WIDE) <= 0, address
    assert faults(phone) == []


def test_a_thumb_takes_the_list_and_not_the_dots(served: Served, phone: Any) -> None:
    phone.get(served.address + "/failures")
    dot = "return getComputedStyle(document.querySelector('.dots a')).pointerEvents"
    assert phone.execute_script(dot) == "none"


def test_letters_in_the_drawing_can_be_read_on_a_phone(served: Served, phone: Any) -> None:
    phone.get(served.address + "/failures")
    heights = phone.execute_script(
        "return [...document.querySelectorAll('.dots text')].map(e => e.getBoundingClientRect().height)"
    )
    assert len(heights) > 4
    assert min(heights) >= 11


def test_drawings_stay_inside_their_page(served: Served, desk: Any) -> None:
    desk.get(served.address + "/failures")
    outside = desk.execute_script(
        "return [...document.querySelectorAll('.dots')].flatMap(svg => { const box = svg.getBoundingClientRect();"
        "return [...svg.querySelectorAll('path, text, rect')].filter(e => { const r = e.getBoundingClientRect();"
        "return r.left < box.left - 1 || r.right > box.right + 1 || r.top < box.top - 1 || r.bottom > box.bottom + 1;"
        "}).map(e => e.outerHTML) })"
    )
    assert outside == []


def test_a_dot_leads_to_the_record(shop: FakeShop, served: Served, desk: Any) -> None:
    """The shells here are invented, their numbers those of the moulds of the scene as far as these go."""
    shop.shells = make(60, 9, failing=0.3, planted=True)
    desk.get(served.address + "/failures")
    desk.execute_script(
        "document.querySelector(\".dots a[href='/mould/1/audit'], .dots a[href='/mould/2/audit'], "
        ".dots a[href='/mould/3/audit']\").dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true}))"
    )
    assert re.search(r"/mould/[123]/audit$", desk.current_url)
    assert "What failures share" in desk.execute_script("return document.body.innerText")


def test_on_paper(served: Served, desk: Any) -> None:
    """Black on white, without the ways about, with what the screen folds away."""
    desk.get(served.address + "/failures")
    desk.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        shown = desk.execute_script("return document.body.innerText")
        assert "Of 60 moulds" in shown
        assert "The shells behind it" not in shown
        assert desk.execute_script("return getComputedStyle(document.documentElement).backgroundColor") == (
            "rgb(255, 255, 255)"
        )
        folded = desk.execute_script(
            "return [...document.querySelectorAll('.failing details tbody tr')].filter(r => r.checkVisibility()).length"
        )
        assert folded > 5
    finally:
        desk.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    width, height = A4_IN
    paper = desk.execute_cdp_cmd("Page.printToPDF", {"paperWidth": width, "paperHeight": height})
    pdf = base64.b64decode(paper["data"])
    assert pdf.startswith(b"%PDF")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 6
