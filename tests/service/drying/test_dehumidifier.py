"""The dehumidifier's curve: it meets what it was told, and does what such machines do between."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.dehumidifier import USUAL_J_KG, Dehumidifier, Rated, can_be_rated

ZERO_K = 273.15
DAY_S = 86400.0
PLATE = (
    Rated(27.0 + ZERO_K, 0.6, 20.0 / DAY_S),
    Rated(20.0 + ZERO_K, 0.6, 13.0 / DAY_S),
    Rated(10.0 + ZERO_K, 0.7, 7.0 / DAY_S),
)


def litres(machine: Dehumidifier, celsius: float, humidity: float) -> float:
    return float(machine.takes_kg_s(celsius + ZERO_K, humidity)) * DAY_S


@pytest.mark.parametrize("many", [1, 2, 3])
def test_each_told_point_is_met(many: int) -> None:
    machine = Dehumidifier(PLATE[:many])
    for point in PLATE[:many]:
        assert float(machine.takes_kg_s(point.temperature_k, point.humidity)) == pytest.approx(
            point.water_kg_s, rel=1e-6
        )


def test_one_point_tells_the_others_as_room_machines_are() -> None:
    """At 20 degC and 60 % such machines take three quarters of what they do at 26.7, at 10 and 70 % under half."""
    machine = Dehumidifier((Rated(26.7 + ZERO_K, 0.6, 20.0 / DAY_S),))
    assert litres(machine, 20.0, 0.6) / 20.0 == pytest.approx(0.77, abs=0.03)
    assert litres(machine, 10.0, 0.7) / 20.0 == pytest.approx(0.46, abs=0.03)


@given(celsius=st.floats(5.0, 38.0), humidity=st.floats(0.0, 1.0), more=st.floats(0.0, 0.3))
def test_it_takes_more_from_damper_air_and_never_gives(celsius: float, humidity: float, more: float) -> None:
    machine = Dehumidifier(PLATE[:1])
    one, other = litres(machine, celsius, humidity), litres(machine, celsius, humidity + more)
    assert 0.0 <= one <= other + 1e-9


@given(celsius=st.floats(5.0, 38.0), humidity=st.floats(0.0, 1.0))
def test_between_points_it_stays_between_their_scales(celsius: float, humidity: float) -> None:
    each = [litres(Dehumidifier((point,)), celsius, humidity) for point in PLATE]
    assert min(each) - 1e-9 <= litres(Dehumidifier(PLATE), celsius, humidity) <= max(each) + 1e-9


def test_below_its_frost_limit_it_stands() -> None:
    machine = Dehumidifier(PLATE, frost_k=7.0 + ZERO_K)
    found = machine.takes_kg_s(np.array([6.999, 7.0]) + ZERO_K, 0.9)
    assert found[0] == 0.0
    assert found[1] > 0.0


def test_what_it_draws() -> None:
    """By its plate for as long as it runs; else what is usual for the water."""
    half, most = np.array([1e-4]), np.array([2e-4])
    assert Dehumidifier(PLATE, 400.0).draws_w(half, most) == pytest.approx(200.0)
    assert Dehumidifier(PLATE).draws_w(half, most) == pytest.approx(1e-4 * USUAL_J_KG)
    assert Dehumidifier(PLATE, 400.0).draws_w(np.array([0.0]), np.array([0.0])) == pytest.approx(0.0)


def test_air_that_is_too_dry_or_cold_rates_no_machine() -> None:
    assert can_be_rated(27.0 + ZERO_K, 0.6)
    assert can_be_rated(10.0 + ZERO_K, 0.7)
    assert not can_be_rated(5.0 + ZERO_K, 0.3)
    assert not can_be_rated(20.0 + ZERO_K, 0.25)
