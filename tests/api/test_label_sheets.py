"""Tags laid on sheets."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml

import pytest

from api.fakes import FakeShop
from api.label_sheets import sheets
from api.label_stock import stock_named
from api.qr import code_of
from api.tag import Tag

STOCK = stock_named("a4-2x4")


def tags(shop: FakeShop, count: int) -> list[Tag]:
    code = code_of("http://shed:8321/mould/1")
    return [Tag(mould, None, code) for mould in shop.all_moulds()[:count]]


@pytest.mark.parametrize(
    ("count", "start", "on_each"),
    [
        (0, 1, []),
        (1, 1, [1]),
        (8, 1, [8]),
        (9, 1, [8, 1]),
        (1, 8, [1]),
        (2, 8, [1, 1]),
        (7, 2, [7]),
        (8, 2, [7, 1]),
    ],
)
def test_a_used_sheet_is_finished_first(shop: FakeShop, count: int, start: int, on_each: list[int]) -> None:
    found = sheets(tags(shop, count), STOCK, start)
    assert [str(sheet).count('class="qr"') for sheet in found] == on_each


def test_the_first_stands_on_the_label_asked_for(shop: FakeShop) -> None:
    sheet = str(sheets(tags(shop, 1), STOCK, 4)[0])
    places = re.findall(r'<svg class="label" x="([\d.]+)" y="([\d.]+)"', sheet)
    assert [tuple(map(float, place)) for place in places] == [
        pytest.approx(STOCK.spot(n), abs=1e-3) for n in range(4)
    ]
    assert sheet.index('class="qr"') > sheet.index('x="106.250" y="80.800"')


def test_a_sheet_is_as_large_as_the_paper_and_named(shop: FakeShop) -> None:
    root = Xml.fromstring(str(sheets(tags(shop, 2), STOCK)[0]))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("210mm", "297mm", "0 0 210 297")
    assert root.get("aria-label") == "A sheet with tags of Heron, Curlew"
