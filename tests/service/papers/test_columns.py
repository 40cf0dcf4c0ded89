"""Units in column heads, numbers under them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from service.papers.columns import amount, clock_cells, clock_heads, head
from service.units import SHOWN, Dimension, Units, show
from tests.service.papers.paper_shop import SALTMARSH

US = replace(SALTMARSH, units=Units.US)


@pytest.mark.parametrize("dimension", list(SHOWN))
@pytest.mark.parametrize("site", [SALTMARSH, US])
def test_amounts_are_those_that_people_are_shown(dimension: Dimension, site: object) -> None:
    for value in (0.0, 0.37, 293.15):
        shown = show(value, dimension, site.units, 3).split(" ")[0]  # type: ignore[attr-defined]
        assert amount(value, dimension, site, 3) == pytest.approx(float(shown), abs=2e-3)  # type: ignore[arg-type]


def test_heads_say_the_unit() -> None:
    assert head("weight", Dimension.MASS, SALTMARSH) == "weight (kg)"
    assert head("weight", Dimension.MASS, US) == "weight (lb)"
    assert head("air", Dimension.TEMPERATURE, None) == "air (°C)"
    assert amount(None, Dimension.MASS, None, 1) is None


def test_an_instant_stands_in_two_clocks() -> None:
    at = datetime(2026, 7, 1, 12, 30, 5, tzinfo=UTC)
    assert clock_heads("when", SALTMARSH) == ["when (Europe/London)", "when (UTC)"]
    assert clock_cells(at, SALTMARSH) == ["2026-07-01 13:30:05", "2026-07-01 12:30:05"]
    assert clock_cells(None, SALTMARSH) == [None, None]
