"""A forecast with what comes besides: closed forms, and nothing where nothing comes."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.air import humidity_ratio
from service.drying.room_answer import answered
from tests.service.drying.batches import PRESSURE_PA, swinging

HOUR_S = 3600.0
AIR = swinging(24.0)


def away(besides_kg_s: float, rate_an_hour: float, air_kg: float = 174.0):  # type: ignore[no-untyped-def]
    """How much more vapour there is than as forecast."""
    rows = np.full(AIR.time_s.size - 1, besides_kg_s)
    found = answered(AIR, rows, rate_an_hour / HOUR_S, air_kg)
    return humidity_ratio(found.temperature_k, found.humidity, PRESSURE_PA) - humidity_ratio(
        AIR.temperature_k, AIR.humidity, PRESSURE_PA
    )


def test_nothing_besides_changes_nothing() -> None:
    assert answered(AIR, np.zeros(AIR.time_s.size - 1), 2e-4, 174.0).humidity == pytest.approx(AIR.humidity)


@pytest.mark.parametrize("rate", [0.2, 1.5])
def test_a_steady_load_settles_as_the_closed_form_says(rate: float) -> None:
    load = 0.02 / HOUR_S
    expected = load / (174.0 * rate / HOUR_S) * (1.0 - np.exp(-rate * AIR.time_s / HOUR_S))
    assert away(load, rate) == pytest.approx(expected, abs=1e-9)


def test_a_shut_room_keeps_all_of_it() -> None:
    assert away(1e-5, 0.0)[-1] == pytest.approx(1e-5 * 24 * HOUR_S / 174.0, rel=1e-6)


def test_air_is_never_more_than_full_nor_less_than_empty() -> None:
    wet = answered(AIR, np.full(AIR.time_s.size - 1, 1.0), 1e-4, 10.0)
    dry = answered(AIR, np.full(AIR.time_s.size - 1, -1.0), 1e-4, 10.0)
    assert wet.humidity.max() == 1.0
    assert dry.humidity.min() == 0.0
    assert wet.temperature_k.tolist() == AIR.temperature_k.tolist()
