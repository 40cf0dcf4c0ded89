"""Weights in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from api.weight_rows import weight_line, weight_rows
from service.room.audit_views import WeighedPair, Weighings
from service.units import Units
from tests.api.scene import mould

PAIR = WeighedPair(START - timedelta(hours=3), START, -0.14, -0.3, -0.12, (), False)
FOUND = Weighings((PAIR,), 0.4, 4, 0.24)


def rows(shop: FakeShop, *pairs: WeighedPair) -> list[tuple[str, str, str, str]]:
    audit = replace(shop.audit(mould(shop, "Heron").id), weighings=replace(FOUND, pairs=pairs))
    return weight_rows(audit, SALTMARSH)


def test_what_it_lost(shop: FakeShop) -> None:
    assert rows(shop, PAIR) == [("11 Dec 11:20 to 11 Dec 14:20", "lost 0.14 kg", "lost 0.12 kg", "")]


def test_what_lay_between(shop: FakeShop) -> None:
    dipped = replace(PAIR, measured_kg=0.5, computed_kg=None, coats=(3, 4), wires=True)
    ((_, measured, worked, between),) = rows(shop, dipped)
    assert (measured, worked) == ("gained 0.50 kg", "not worked out")
    assert between == "coats 3 and 4 dipped, wire set, its weight is not known"


def test_never_weighed(shop: FakeShop) -> None:
    assert weight_rows(shop.audit(mould(shop, "Heron").id), SALTMARSH) == []


@pytest.mark.parametrize(
    ("weighings", "words"),
    [
        (
            FOUND,
            "fits all 4 pairs of weighings without a dip between: 0.40 m² of shell fits best, by its sizes",
        ),
        (replace(FOUND, fitted=1), "proves nothing more."),
        (replace(FOUND, fitted=0, area_m2=None), "Nothing to compare: "),
    ],
)
def test_what_is_compared_with_what(weighings: Weighings, words: str) -> None:
    assert words in weight_line(weighings, SALTMARSH)


def test_in_feet_where_feet_are_used() -> None:
    assert "4.3 ft² of shell" in weight_line(FOUND, replace(SALTMARSH, units=Units.US))
