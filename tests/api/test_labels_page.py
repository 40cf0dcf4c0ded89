"""Which moulds get a tag, and what it says of them."""

from __future__ import annotations

from datetime import date

import pytest

from api.fakes import FakeShop
from api.label_stock import STOCKS
from api.labels_page import labels_context, tag_of
from api.qr import code_of
from api.settings import ApiSettings
from service.errors import BadInput, NotFound
from tests.api.scene import mould

SETTINGS = ApiSettings(link_base="http://shed:8321")


def test_the_code_opens_the_moulds_page(shop: FakeShop) -> None:
    heron = mould(shop, "Heron")
    assert tag_of(shop, SETTINGS, heron, shop.site()).code == code_of(f"http://shed:8321/mould/{heron.id}")


def test_the_first_dip_is_told_by_the_shops_calendar(shop: FakeShop) -> None:
    assert tag_of(shop, SETTINGS, mould(shop, "Heron"), shop.site()).first_dip == date(2025, 12, 10)
    assert tag_of(shop, SETTINGS, mould(shop, "Godwit"), shop.site()).first_dip is None


def test_a_first_dip_taken_back_does_not_count(shop: FakeShop) -> None:
    avocet = mould(shop, "Avocet")
    shop.withdraw(avocet.last_dip_number or 0, "bench 1", "back-0001")
    assert tag_of(shop, SETTINGS, avocet, shop.site()).first_dip is None


def test_all_that_hang_where_none_is_chosen(shop: FakeShop) -> None:
    context = labels_context(shop, SETTINGS, [], "a4-3x8", 1)
    assert context["chosen"] == {m.id for m in shop.board().moulds}
    assert [m.name for m in context["choice"]][:2] == ["Avocet", "Curlew"]


def test_one_that_has_left_can_be_printed_but_is_not_among_all(shop: FakeShop) -> None:
    heron = mould(shop, "Heron")
    shop.end(heron.id, "scrapped", "", "bench 1", "end-00001")
    assert heron.id not in labels_context(shop, SETTINGS, [], "a4-3x8", 1)["chosen"]
    context = labels_context(shop, SETTINGS, [heron.id, heron.id], "a4-3x8", 1)
    assert context["chosen"] == {heron.id}
    assert context["choice"][-1].name == "Heron"
    assert len(context["sheets"]) == 1


@pytest.mark.parametrize("start", [0, -1, 25, 10_000])
def test_a_label_that_the_sheet_has_not(shop: FakeShop, start: int) -> None:
    with pytest.raises(BadInput, match=f"no label {start}"):
        labels_context(shop, SETTINGS, [], STOCKS[0].key, start)


def test_a_mould_that_is_not_there(shop: FakeShop) -> None:
    with pytest.raises(NotFound):
        labels_context(shop, SETTINGS, [999], STOCKS[0].key, 1)
