"""One hanger tag: what stands on it, and that its code is large enough to be read."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from api.fakes import FakeShop
from api.label_stock import STOCKS, Stock, stock_named
from api.qr import QUIET, code_of
from api.tag import LEAST_MODULE_MM, Tag, check, drawn, module_mm
from service.errors import BadInput
from tests.api.scene import mould

EVERY = pytest.mark.parametrize("stock", STOCKS, ids=[stock.key for stock in STOCKS])
LINK = "http://shellroom.local:8321/mould/123"
LONGEST = "http://shell-room-of-the-foundry.example:8321/mould/12345"


def tag(shop: FakeShop, name: str = "Gate panel, left") -> Tag:
    return Tag(mould(shop, name), date(2025, 12, 10), code_of(LINK))


@EVERY
@pytest.mark.parametrize("link", [LINK, LONGEST])
def test_modules_are_large_enough_and_the_quiet_zone_is_white(
    shop: FakeShop, stock: Stock, link: str
) -> None:
    code = code_of(link)
    check(stock, code)
    module = module_mm(stock, code.side)
    assert module >= LEAST_MODULE_MM
    picture = str(drawn(replace(tag(shop), code=code), stock))
    x, y, scale = map(float, re.search(r"translate\(([\d.]+) ([\d.]+)\) scale\(([\d.]+)\)", picture).groups())  # type: ignore[union-attr]
    assert scale == pytest.approx(module, abs=1e-4)
    side, quiet = code.side * module, QUIET * module
    assert quiet - 1e-3 <= x <= stock.label[0] - side - quiet + 1e-3
    assert quiet - 1e-3 <= y <= stock.label[1] - side - quiet + 1e-3
    for at_x, at_y in re.findall(r'<(?:text|rect) class="tag-[^>]* x="([\d.]+)" y="([\d.]+)"', picture):
        beside = (
            float(at_x) >= x + side + quiet - 0.01 or not y - quiet < float(at_y) - 0.01 < y + side + quiet
        )
        assert beside, (at_x, at_y)


def test_an_address_too_long_for_a_small_label_is_refused() -> None:
    long = code_of("http://shellroom.local:8321/" + "x" * 60)
    with pytest.raises(BadInput, match="too long for so small a label"):
        check(stock_named("letter-3x10"), long)
    check(stock_named("a4-2x4"), long)


@EVERY
def test_what_it_says(shop: FakeShop, stock: Stock) -> None:
    words = re.sub(r"<[^>]+>", "|", str(drawn(tag(shop), stock)))
    for said in ("Gate panel,", "Flat panel, 10 coats", "Hook 5, first dip 2025-12-10"):
        assert said in words
    assert "…" not in words


@EVERY
def test_every_coat_can_be_ticked_and_those_on_are(shop: FakeShop, stock: Stock) -> None:
    picture = str(drawn(tag(shop), stock))
    widths = [float(w) for w in re.findall(r'class="tag-coat[^"]*"[^>]* width="([\d.]+)"', picture)]
    assert len(widths) == 10
    assert min(widths) >= 2.0
    assert picture.count('class="tag-coat on"') == picture.count('class="tag-tick"') == 5
    assert picture.count('class="tag-stitch"') == 1
    assert re.findall(r'class="tag-number"[^>]*>(\d+)<', picture) == [str(n) for n in range(1, 11)]


def test_before_its_first_dip_there_is_a_line_to_write_on(shop: FakeShop) -> None:
    godwit = Tag(replace(mould(shop, "Godwit"), hook=""), None, code_of(LINK))
    assert "First dip ____" in drawn(godwit, STOCKS[0])


def test_a_hanger_tag_shows_where_it_is_punched(shop: FakeShop) -> None:
    assert 'class="hole" cx="27.0" cy="8.0"' in drawn(tag(shop), stock_named("hanger"))
    assert 'class="cut"' not in drawn(tag(shop), stock_named("hanger"))
    assert 'class="cut"' in drawn(tag(shop), stock_named("a4-hanger"))
    assert 'class="hole"' not in drawn(tag(shop), STOCKS[0])
