"""Sensors that contradict each other, at the exact border; which of them is believed; and in what words."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from service.reading import Quantity
from service.room.sensors_differ import (
    APART,
    HALF_HOUR,
    Differing,
    believed,
    contradict,
    differ_lines,
    half_hour_means,
)
from service.units import Units
from tests.service.room.cases import T0

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
NAN = float("nan")


def rows(*sensors: list[float]) -> NDArray[np.float64]:
    return np.array(sensors, float)


class TestContradict:
    @pytest.mark.parametrize(("quantity", "value"), [(T, 294.0), (RH, 0.45)])
    def test_only_beyond_the_limit(self, quantity: Quantity, value: float) -> None:
        limit = APART[quantity]
        assert contradict(rows([value], [value + limit]), quantity).tolist() == [False]
        assert contradict(rows([value], [value + limit * 1.001]), quantity).tolist() == [True]

    def test_other_quantities_may_lie_apart(self) -> None:
        assert not contradict(rows([0.1], [5.0]), Quantity.AIR_SPEED).any()

    def test_alone_or_silent_nobody_contradicts(self) -> None:
        assert not contradict(rows([0.1, 0.1]), RH).any()
        assert not contradict(rows([0.1, NAN], [NAN, 0.9]), RH).any()
        assert not contradict(rows([NAN], [NAN]), RH).any()

    def test_by_the_mean_of_half_an_hour(self) -> None:
        """Five minutes of breath on one of them are no contradiction; half an hour is."""
        breath = [0.5] * HALF_HOUR + [0.9] + [0.5] * HALF_HOUR
        assert not contradict(rows([0.5] * len(breath), breath), RH).any()
        lasting = [0.5] * HALF_HOUR + [0.9] * HALF_HOUR
        found = contradict(rows([0.5] * len(lasting), lasting), RH)
        assert found.tolist() == [False] * (HALF_HOUR + 1) + [True] * (HALF_HOUR - 1)

    def test_any_pair_of_three(self) -> None:
        assert contradict(rows([0.5], [0.52], [0.7]), RH).all()


def test_means_are_of_what_was_told() -> None:
    means = half_hour_means(rows([NAN, 1.0, NAN, 3.0]))[0]
    assert means.tolist() == pytest.approx([NAN, 1.0, NAN, 2.0], nan_ok=True)


class TestBelieved:
    def test_of_two_that_agree_the_mean(self) -> None:
        assert believed(rows([0.5], [0.6]), RH).tolist() == [0.55]

    def test_of_two_that_do_not_the_damper(self) -> None:
        assert believed(rows([0.85], [0.03]), RH).tolist() == [0.85]
        assert believed(rows([0.03], [0.85]), RH).tolist() == [0.85]

    def test_of_three_the_middle_one(self) -> None:
        assert believed(rows([0.85], [0.03], [0.5]), RH).tolist() == [0.5]

    def test_of_three_with_one_silent_it_is_two(self) -> None:
        assert believed(rows([0.85], [NAN], [0.5]), RH).tolist() == [0.85]

    def test_of_temperatures_the_mean_all_the_same(self) -> None:
        assert believed(rows([280.0], [300.0]), T).tolist() == [290.0]

    def test_nobody_speaks(self) -> None:
        assert np.isnan(believed(rows([NAN], [NAN]), RH)).all()


class TestWords:
    def test_humidity_of_two(self) -> None:
        assert differ_lines(Differing(RH, (("bench", 0.55), ("door", 0.05)), T0), Units.METRIC) == [
            "Sensors differ: bench 55 %, door 5 %: one of them is wrong",
            "Until it is found, the damper one counts",
        ]

    def test_of_three_the_middle_one_counts_as_ever(self) -> None:
        three = Differing(RH, (("bench", 0.55), ("door", 0.05), ("rack", 0.54)), T0)
        assert differ_lines(three, Units.METRIC) == [
            "Sensors differ: bench 55 %, door 5 %, rack 54 %: one of them is wrong"
        ]

    @pytest.mark.parametrize(("units", "said"), [(Units.METRIC, "21.0 °C"), (Units.US, "70 °F")])
    def test_temperature_in_the_units_of_the_shop(self, units: Units, said: str) -> None:
        (line,) = differ_lines(Differing(T, (("bench", 294.15), ("door", 285.0)), T0), units)
        assert line.startswith(f"Sensors differ: bench {said}, door ")
