"""A factor's numbers with their units."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.records.shop_facts import Site
from service.room.views import Factor
from service.units import Units
from service.words.failure_factors import HAD, NAMES, SIDES, factor_difference, factor_value

METRIC = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = replace(METRIC, units=Units.US)


@pytest.mark.parametrize(
    ("factor", "value", "metric", "us"),
    [
        (Factor.EARLY_DIPS, 2.0, "2", "2"),
        (Factor.WETTEST_COAT, 0.12, "12 % over its limit", "12 % over its limit"),
        (Factor.WETTEST_COAT, -0.03, "3 % under its limit", "3 % under its limit"),
        (Factor.PRIME_SWING, 1.7, "1.7 °C", "3.1 °F"),
        (Factor.PRIME_TOO_DRY, 0.0, "none", "none"),
        (Factor.PRIME_TOO_DRY, 5400.0, "1 h 30 min", "1 h 30 min"),
        (Factor.THICKNESS, 0.0079, "7.9 mm", "0.31 in"),
        (Factor.TANK_AGE, 3 * 86400.0, "3 days", "3 days"),
        (Factor.UNMEASURED, 0.08, "8 %", "8 %"),
        (Factor.WATER_AT_END, 0.018, "1.8 %", "1.8 %"),
        (Factor.FINAL_WAIT, 36 * 3600.0, "36 h", "36 h"),
    ],
)
def test_a_value(factor: Factor, value: float, metric: str, us: str) -> None:
    assert factor_value(factor, value, METRIC) == metric
    assert factor_value(factor, value, US) == us


@pytest.mark.parametrize(
    ("factor", "value", "said"),
    [
        (Factor.PRIME_SWING, 1.0, "1.0 °C more"),
        (Factor.WETTEST_COAT, -0.05, "5 % less"),
        (Factor.THICKNESS, 0.0, "0.0 mm more"),
        (Factor.FINAL_WAIT, -3600.0, "1 h less"),
    ],
)
def test_a_difference(factor: Factor, value: float, said: str) -> None:
    assert factor_difference(factor, value, METRIC) == said


def test_every_factor_is_named() -> None:
    assert set(NAMES) == set(SIDES) == set(Factor)
    assert set(HAD) < set(Factor)
