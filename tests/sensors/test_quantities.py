"""Ranges and speeds of change."""

from __future__ import annotations

import math

import pytest

from sensors.quantities import KINDS
from service.drying.air import standard_pressure_pa
from service.reading import Quantity
from service.units import Dimension, convert


def test_every_quantity_is_known() -> None:
    assert set(KINDS) == set(Quantity)


def test_every_range_has_a_lowest_below_its_highest() -> None:
    assert all(kind.lowest < kind.highest for kind in KINDS.values())


@pytest.mark.parametrize("name", list(Quantity))
def test_the_range_is_told_in_words_with_units(name: Quantity) -> None:
    words = KINDS[name].range_words()
    assert " to " in words
    assert words[0].isdigit() or words[0] == "-"


def test_limits_are_converted_as_readings_are() -> None:
    assert KINDS[Quantity.AIR_TEMPERATURE].lowest == convert(-30.0, "degC", Dimension.TEMPERATURE)
    assert KINDS[Quantity.RELATIVE_HUMIDITY].highest == convert(105.0, "%", Dimension.FRACTION)


def test_pressure_reaches_four_thousand_metres() -> None:
    # ISO 2533:1975 standard atmosphere: 616.4 hPa at 4000 m.
    pressure_pa = float(standard_pressure_pa(4000.0))
    assert pressure_pa == pytest.approx(61640, rel=1e-3)
    assert KINDS[Quantity.PRESSURE].lowest < pressure_pa


def test_what_can_change_at_once_has_no_limit() -> None:
    assert math.isinf(KINDS[Quantity.AIR_SPEED].allowed(0.0))
    assert math.isinf(KINDS[Quantity.WEIGHT].allowed(0.0))


def test_more_time_allows_more_change() -> None:
    kind = KINDS[Quantity.AIR_TEMPERATURE]
    assert kind.allowed(0.0) == 3.0
    assert kind.allowed(10.0) == 5.0
    assert kind.allowed(-10.0) == 3.0
