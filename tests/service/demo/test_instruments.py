"""Pretended sensors: always the same at the same moment, off by what they are said to be, silent and broken on time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from service.demo.instruments import BROKEN_K, Instrument
from service.demo.shed import IndoorAir
from service.reading import Quantity

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
V, P = Quantity.AIR_SPEED, Quantity.PRESSURE
AIR = IndoorAir(294.65, 0.485, 1.2, 101325.0)
START = datetime(2026, 6, 10, 8, tzinfo=UTC)
STEP = timedelta(minutes=5)
BENCH = Instrument("bench", "Shell room", ("shop/{sensor}/air",), (T, RH, V, P), lambda at: AIR)
EXACT = replace(BENCH, noise_k=0.0, noise_humidity=0.0)


def values(instrument: Instrument, quantity: Quantity, steps: int = 400) -> list[float]:
    measured = (instrument.measure(START + i * STEP) for i in range(steps))
    return [one[quantity] for one in measured if one is not None]


def test_without_noise_it_measures_the_air() -> None:
    measured = EXACT.measure(START)
    assert measured is not None
    assert measured[T] == AIR.temperature_k
    assert measured[RH] == AIR.humidity


def test_its_offset_is_added_to_every_value() -> None:
    off = replace(EXACT, offset_k=0.2, offset_humidity=-0.01)
    assert values(off, T) == pytest.approx([294.85] * 400)
    assert values(off, RH) == pytest.approx([0.475] * 400)


def test_its_noise_has_the_spread_it_is_said_to_have() -> None:
    """400 values: the estimated standard deviation lies within 20 % of the true one but for 1 in 10,000."""
    found = values(replace(BENCH, noise_k=0.05), T)
    mean = sum(found) / len(found)
    spread = math.sqrt(sum((v - mean) ** 2 for v in found) / (len(found) - 1))
    assert mean == pytest.approx(AIR.temperature_k, abs=0.01)
    assert spread == pytest.approx(0.05, rel=0.2)


def test_the_same_moment_always_gives_the_same_values() -> None:
    assert BENCH.measure(START) == BENCH.measure(START)
    assert BENCH.measure(START) != BENCH.measure(START + STEP)


def test_two_sensors_in_the_same_air_differ() -> None:
    assert BENCH.measure(START) != replace(BENCH, sensor="drying-rack").measure(START)


def test_it_measures_only_what_it_can() -> None:
    measured = replace(BENCH, quantities=(T, RH)).measure(START)
    assert measured is not None
    assert set(measured) == {T, RH}


@pytest.mark.parametrize(("humidity", "offset"), [(1.0, 0.05), (0.0, -0.05)])
def test_humidity_stays_within_what_air_can_have(humidity: float, offset: float) -> None:
    odd = replace(BENCH, air=lambda at: AIR._replace(humidity=humidity), offset_humidity=offset)
    assert set(values(odd, RH)) == {humidity}


def test_air_speed_is_never_negative() -> None:
    assert min(values(replace(BENCH, air=lambda at: AIR._replace(speed_m_s=0.0)), V)) == 0.0


def test_it_asks_for_the_air_of_that_moment() -> None:
    asked = list[datetime]()

    def air(at: datetime) -> IndoorAir:
        asked.append(at)
        return AIR

    replace(BENCH, air=air).measure(START + STEP)
    assert asked == [START + STEP]


@pytest.mark.parametrize(("before_end_s", "silent"), [(3001, False), (3000, True), (1, True), (0, False)])
def test_it_is_silent_to_the_very_second(before_end_s: int, silent: bool) -> None:
    tired = replace(BENCH, silent_every_s=7200.0, silent_for_s=3000.0)
    end = datetime.fromtimestamp(7200.0 * 200_000, UTC)
    at = end - timedelta(seconds=before_end_s)
    assert tired.silent(at) is silent
    assert (tired.measure(at) is None) is silent


def test_unless_told_so_it_is_never_silent_or_broken() -> None:
    assert not any(BENCH.silent(START + i * STEP) or BENCH.broken(START + i * STEP) for i in range(500))


def test_one_value_in_so_many_is_nonsense() -> None:
    loose = replace(BENCH, broken_every=50)
    broken = [i for i in range(500) if loose.broken(START + i * STEP)]
    assert len(broken) == 10
    assert {b - a for a, b in pairwise(broken)} == {50}


def test_nonsense_is_the_number_of_a_loose_probe_or_no_number() -> None:
    loose = replace(BENCH, broken_every=1)
    kinds = {
        "loose" if measured[T] == BROKEN_K else "none" if math.isnan(measured[P]) else "good"
        for i in range(50)
        if (measured := loose.measure(START + i * STEP)) is not None
    }
    assert kinds == {"loose", "none"}


def test_a_broken_sensor_without_a_thermometer_sends_no_number() -> None:
    measured = replace(BENCH, quantities=(V,), broken_every=1).measure(START)
    assert measured is not None
    assert math.isnan(measured[V])
