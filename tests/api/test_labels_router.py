"""The page of tags, and what comes out of a printer: size and number of pages, every code read, no text cut off."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from api.fakes import FakeShop
from api.label_stock import STOCKS, Stock
from api.settings import ApiSettings
from service.records.facts import MouldBody
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults
from tests.api.conftest import client_of
from tests.api.scene import mould, plain
from tests.api.splashes import read
from tests.parts import need

MM = 72 / 25.4  # points of a PDF to a millimetre
ROUNDED_MM = 0.2  # the browser rounds a page to whole points
LONG = "The gate panel with reeds and three herons, left wing, second casting W"
OUTSIDE = """
return [...document.querySelectorAll('.label')].flatMap((label) => {
  const edge = label.querySelector('.label-edge').getBoundingClientRect();
  return [...label.querySelectorAll('text, rect, path')].filter((e) => {
    const r = e.getBoundingClientRect();
    return r.left < edge.left - 1 || r.right > edge.right + 1 || r.top < edge.top - 1 || r.bottom > edge.bottom + 1;
  }).map((e) => e.outerHTML.slice(0, 90));
});
"""


class TestPage:
    def test_all_that_hang(self, client: TestClient) -> None:
        page = client.get("/labels")
        assert page.status_code == 200
        assert page.text.count('class="qr"') == 12
        assert "12 moulds chosen" in plain(page.text)

    def test_one_or_several(self, client: TestClient) -> None:
        assert client.get("/labels?mould=3").text.count('class="qr"') == 1
        assert client.get("/labels?mould=3&mould=1&stock=hanger").text.count('class="sheet"') == 2

    @pytest.mark.parametrize("here", [True, False])
    def test_codes_that_no_phone_can_open_are_told(self, shop: FakeShop, here: bool) -> None:
        client = client_of(shop, ApiSettings(links_lead_here=here))
        text = plain(client.get("/labels").text)
        told = "The codes lead to this machine only (http://127.0.0.1:8321): no phone can open them."
        assert (told in text) is here

    @pytest.mark.parametrize(
        ("asked", "status", "words"),
        [
            ("stock=wall", 422, "There is no label stock “wall”. Choose one of the list."),
            ("stock=a4-2x4&start=9", 422, "This sheet has no label 9. Count along the rows, from 1 to 8."),
            ("mould=99", 404, "There is no mould 99."),
        ],
    )
    def test_what_cannot_be(self, client: TestClient, asked: str, status: int, words: str) -> None:
        answer = client.get(f"/labels?{asked}")
        assert answer.status_code == status
        assert words in plain(answer.text)
        assert 'name="stock"' in answer.text

    def test_an_empty_shop(self, newcomer: TestClient) -> None:
        assert "Nothing hangs in the shell room yet." in plain(newcomer.get("/labels").text)


def long_name(shop: FakeShop) -> None:
    heron = mould(shop, "Heron")
    body = shop.records.facts(heron.id)[0].body
    assert isinstance(body, MouldBody)
    named = body.model_copy(update={"name": LONG, "piece": LONG, "hook": "by the far door"})
    shop.change_mould(heron.id, named, "bench 1", "name-00001")


@pytest.fixture(scope="module")
def printing() -> Iterator[tuple[Any, str]]:
    """A browser, and the address of a shop with a name that is too long."""
    shop = FakeShop.saltmarsh()
    long_name(shop)
    with Served(shop) as served, browser(1100, 900) as driver:
        yield driver, served.address


@pytest.mark.browser
@pytest.mark.parametrize("stock", STOCKS, ids=[stock.key for stock in STOCKS])
def test_as_it_leaves_the_printer(printing: tuple[Any, str], stock: Stock) -> None:
    driver, address = printing
    driver.get(f"{address}/labels?stock={stock.key}&start={min(2, stock.on_a_sheet)}")
    assert driver.execute_script(OUTSIDE) == []
    assert faults(driver) == []
    pages = pdf_pages(driver)
    assert len(pages) == -(-(12 + min(1, stock.on_a_sheet - 1)) // stock.on_a_sheet)
    for page in pages:
        size = [float(page.mediabox.width) / MM, float(page.mediabox.height) / MM]
        assert size == pytest.approx(stock.sheet, abs=ROUNDED_MM)
    paper = "".join(page.extract_text() for page in pages)
    assert "Show the sheet" not in paper
    assert "Oystercatcher" in paper


@pytest.mark.browser
@pytest.mark.parametrize("stock", ["letter-3x10", "a4-hanger"])
def test_every_code_is_read_from_the_sheet(printing: tuple[Any, str], stock: str) -> None:
    """At about 150 dots an inch, as a phone held half a metre away sees it."""
    driver, address = printing
    driver.get(f"{address}/labels?stock={stock}")
    found = {link for sheet in pictures(driver) for link in read(sheet)}
    assert found == {f"http://127.0.0.1:8321/mould/{n}" for n in range(1, 13)}


@pytest.mark.browser
@pytest.mark.parametrize(("width", "height"), [(360, 640), (1920, 1080)])
def test_nothing_bars_anybody_and_nothing_is_too_wide(
    printing: tuple[Any, str], width: int, height: int
) -> None:
    driver, address = printing
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.get(f"{address}/labels")
    assert barriers(driver) == []
    assert driver.execute_script("return document.documentElement.scrollWidth") <= width


def pdf_pages(driver: Any) -> list[Any]:
    pypdf = need("pypdf")
    asked = {"preferCSSPageSize": True, "printBackground": False}
    data = driver.execute_cdp_cmd("Page.printToPDF", asked)["data"]
    return list(pypdf.PdfReader(io.BytesIO(base64.b64decode(data))).pages)


def pictures(driver: Any) -> Iterator[Image.Image]:
    """Each sheet as it looks."""
    for sheet in driver.execute_script(
        "return [...document.querySelectorAll('.sheet')].map(e => e.getBoundingClientRect().toJSON())"
    ):
        clip = {key: sheet[key] for key in ("x", "y", "width", "height")} | {"scale": 1.6}
        shot = driver.execute_cdp_cmd("Page.captureScreenshot", {"clip": clip, "captureBeyondViewport": True})
        yield Image.open(io.BytesIO(base64.b64decode(shot["data"])))
