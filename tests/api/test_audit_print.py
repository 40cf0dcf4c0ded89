"""The audit on paper: at most two sheets for a shell with everything in its records, and no text cut off."""

from __future__ import annotations

import base64
import html
import io
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.records.facts import ResultBody
from service.records.shop_facts import Site
from service.units import Units
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults
from tests.api.scene import plain
from tests.parts import need
from tests.service.room.cases import T0, h
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import furnished, hang_whole, life

pytestmark = pytest.mark.browser

A4, LETTER = (8.27, 11.69), (8.5, 11.0)
SITES = (
    Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC),
    Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US),
)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SmallShop, str]]:
    """A shop with nine sound shells, and the address of the audit of one with everything."""
    folder: Path = tmp_path_factory.mktemp("audit")
    with SmallShop(folder) as small:
        small.records.save_site(SITES[0])
        furnished(small)
        number = hang_whole(small)
        for i in range(9):
            sound = small.records.append_life(life(f"Curlew {i}", dips_h=(1, 5, 10)))[0].mould
            small.records.append(sound, ResultBody(verdict="sound"), T0 + h(99), "bench 1")
        small.work_out()
        small.shop.archive.work_out_some(small.clock.now(), 600.0)
        with Served(small.shop) as served:
            yield small, f"{served.address}/mould/{number}/audit"


def printed(driver: Any, size: tuple[float, float]) -> list[str]:
    """The text of each sheet."""
    pypdf = need("pypdf")
    asked = {"paperWidth": size[0], "paperHeight": size[1], "preferCSSPageSize": False}
    margins = {f"margin{side}": 0.4 for side in ("Top", "Bottom", "Left", "Right")}
    data = driver.execute_cdp_cmd("Page.printToPDF", {**asked, **margins, "printBackground": False})["data"]
    reader = pypdf.PdfReader(io.BytesIO(base64.b64decode(data)))
    return [page.extract_text() for page in reader.pages]


def pressed(text: str) -> str:
    """Without white space, and as the reader of PDF spells joined letters."""
    return re.sub(r"\s+", "", text.replace("ﬁ", "fi").replace("ﬂ", "fl").replace("ﬀ", "ff"))


@pytest.mark.parametrize("site", SITES, ids=["metric", "us"])
@pytest.mark.parametrize("size", [A4, LETTER], ids=["A4", "Letter"])
def test_two_sheets_with_every_word(
    pages: tuple[SmallShop, str], size: tuple[float, float], site: Site
) -> None:
    small, address = pages
    small.records.save_site(site)
    with browser(1280, 900) as driver:
        driver.get(address)
        sheets = printed(driver, size)
        shown = driver.execute_script(LINES)
        assert faults(driver) == []
    assert 1 <= len(sheets) <= 2
    paper = pressed("".join(sheets))
    missing = [line for line in shown if pressed(line) not in paper]
    assert len(shown) > 120
    assert missing == []


LINES = """
const shown = (e) => !e.closest('.screen, .top, .skip, .demo, .whole-ledger, svg.defs, title, script');
const cells = document.querySelectorAll('h1, h2, td, th, li, main p');
return [...cells].filter(shown).filter(e => !e.querySelector('p, li, td'))
  .flatMap(e => [...e.childNodes].map(n => n.textContent.trim())).filter(t => t);
"""


def test_nothing_is_wider_than_the_sheet(pages: tuple[SmallShop, str]) -> None:
    """As wide as A4 less its margins."""
    with browser(718, 1000) as driver:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        driver.get(pages[1])
        wide = driver.execute_script(
            "return [...document.querySelectorAll('main, main table, main svg, main p, main li')]"
            ".filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 80))"
        )
    assert wide == []


def test_facts_and_inferences_are_apart_without_colour(pages: tuple[SmallShop, str]) -> None:
    """Solid against dashed, and in words."""
    with browser(1280, 900) as driver:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        driver.get(pages[1])
        found = driver.execute_script(
            "return [...document.querySelectorAll('.stands-out li')]"
            ".map(e => [e.className, e.querySelector('.known').textContent, getComputedStyle(e).borderLeftStyle])"
        )
    assert {tuple(each) for each in found} == {
        ("inferred", "worked out", "dashed"),
        ("fact", "measured", "solid"),
        ("fact", "recorded", "solid"),
    }


@pytest.mark.parametrize(("width", "phone"), [(1280, False), (390, True)])
def test_the_page_is_no_wider_than_its_screen(pages: tuple[SmallShop, str], width: int, phone: bool) -> None:
    with browser(width, 844, phone=phone) as driver:
        driver.get(pages[1])
        assert driver.execute_script("return document.documentElement.scrollWidth") <= width
        assert barriers(driver) == []
        assert faults(driver) == []


def test_it_reads_as_it_should(pages: tuple[SmallShop, str]) -> None:
    """Every part of the sheet, once."""
    small, address = pages
    small.records.save_site(SITES[0])
    with urllib.request.urlopen(address) as answer:
        text = html.unescape(plain(answer.read().decode()))
    for words in (
        "Came out failed: shell opened at body, coat 4; fin at cup: opened along the back under metal",
        "outside the recipe and outside this foundry's 9 sound shells",
        "It says what differs, not what caused anything.",
        "No wire is recorded on coat 5, where the recipe asks for it.",
        "A hand felt coat 4 still damp, and 12 min later coat 5 went on.",
        "The reason given then: the pour is booked",
        "flow 24.5 s, 21.2 °C, pH 9.6",
        "4 h 25 min measured, 5 h 35 min assumed",
        "set, not asked",
        "put right",
        "At least 24 h asked after the last coat; it hung 30 h. It left before every place was dry enough.",
        "so one was sought that fits all 4 pairs of weighings without a dip between",
        "wire set, its weight is not known",
        "First said: 2 Mar 19:00, bench 1: Coat 3, backup, dipped from the grey tank",
        "taken back 6 Mar 22:00 by bench 2: slip",
        "Note: small crack at the cup, slurry dabbed on (bench 2)",
        "The chain of records is unbroken.",
    ):
        assert words in text, words
