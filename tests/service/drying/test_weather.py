"""The air along time: lines between points, exact means, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.weather import Air, AirSeries, Lines
from tests.service.drying.batches import airs, swinging


def series(time_s: list[float], temperature_k: list[float]) -> AirSeries:
    n = len(time_s)
    return AirSeries(
        np.array(time_s),
        np.array(temperature_k),
        np.full(n, 0.5),
        np.full(n, 0.2),
        np.full(n, 101325.0),
    )


def at(air: AirSeries, time_s: float) -> float:
    return float(air.at(np.array([time_s])).temperature_k[0])


def mean(air: AirSeries, start_s: float, end_s: float) -> float:
    return float(air.mean(np.array([start_s]), np.array([end_s])).temperature_k[0])


def quadrature(air: AirSeries, start_s: float, end_s: float) -> Air:
    """The mean by the trapezoid rule on a fine grid that holds every point of the series."""
    inside = air.time_s[(air.time_s > start_s) & (air.time_s < end_s)]
    t = np.union1d(np.linspace(start_s, end_s, 2001), inside)
    weight = np.diff(t) / (end_s - start_s)
    return Air(*(np.array([0.5 * (values[1:] + values[:-1]) @ weight]) for values in air.at(t)))


class TestAt:
    def test_a_point_is_itself_and_the_middle_is_half_way(self) -> None:
        air = series([0.0, 100.0, 300.0], [290.0, 292.0, 296.0])
        assert [at(air, t) for t in (0.0, 50.0, 100.0, 200.0, 300.0)] == [290.0, 291.0, 292.0, 294.0, 296.0]

    def test_held_flat_outside(self) -> None:
        air = series([0.0, 100.0], [290.0, 292.0])
        assert at(air, -1e6) == 290.0
        assert at(air, 1e9) == 292.0

    def test_many_instants_at_once(self) -> None:
        air = series([0.0, 100.0], [290.0, 292.0])
        assert air.at(np.array([0.0, 25.0, 100.0])).temperature_k.tolist() == [290.0, 290.5, 292.0]

    def test_constant_air_is_the_same_for_ever(self) -> None:
        air = AirSeries.constant(294.0, 0.4, 0.6, 99000.0)
        for t in (-1e9, 0.0, 1.7e9):
            assert [float(v[0]) for v in air.at(np.array([t]))] == [294.0, 0.4, 0.6, 99000.0]


class TestMean:
    def test_over_one_line_is_its_middle(self) -> None:
        assert mean(series([0.0, 100.0], [290.0, 300.0]), 20.0, 60.0) == pytest.approx(294.0, abs=1e-9)

    def test_over_a_corner(self) -> None:
        """Half the step rises from 290 to 292, half falls back: the mean is 291."""
        assert mean(series([0.0, 100.0, 200.0], [290.0, 292.0, 290.0]), 0.0, 200.0) == pytest.approx(291.0)

    def test_a_short_peak_counts_by_its_area_even_in_a_long_step(self) -> None:
        """A triangle 10 K high and 20 s wide in a step of 1000 s lifts the mean by 0.1 K."""
        air = series([0.0, 500.0, 510.0, 520.0, 1000.0], [290.0, 290.0, 300.0, 290.0, 290.0])
        assert mean(air, 0.0, 1000.0) == pytest.approx(290.1, abs=1e-9)

    def test_before_across_and_after_the_points(self) -> None:
        air = series([0.0, 100.0], [290.0, 300.0])
        assert mean(air, -200.0, -100.0) == pytest.approx(290.0)
        assert mean(air, -100.0, 100.0) == pytest.approx(292.5)
        assert mean(air, 0.0, 200.0) == pytest.approx(297.5)
        assert mean(air, 100.0, 200.0) == pytest.approx(300.0)

    def test_constant_air(self) -> None:
        air = AirSeries.constant(294.0, 0.4, 0.6, 99000.0)
        found = air.mean(np.array([-5.0, 0.0, 1.7e9]), np.array([5.0, 1.0, 1.7e9 + 60.0]))
        assert found.temperature_k.tolist() == [294.0] * 3
        assert found.pressure_pa.tolist() == [99000.0] * 3

    def test_each_zone_has_its_own_step(self) -> None:
        air = series([0.0, 100.0], [290.0, 300.0])
        found = air.mean(np.array([0.0, 50.0]), np.array([50.0, 100.0])).temperature_k
        assert found == pytest.approx([292.5, 297.5])

    def test_a_step_of_a_second_late_in_a_long_series_keeps_its_digits(self) -> None:
        """Ninety days of five minutes, at today's seconds since 1970."""
        t = 1.77e9 + np.arange(0.0, 90 * 86400.0, 300.0)
        air = AirSeries(
            t,
            294.0 + 3.0 * np.sin(t / 5000.0),
            np.full(t.size, 0.5),
            np.full(t.size, 0.2),
            np.full(t.size, 1e5),
        )
        start = float(t[-2]) + 10.0
        assert mean(air, start, start + 1.0) == pytest.approx(at(air, start + 0.5), abs=1e-6)

    @given(air=airs(), start=st.floats(-2e4, 1e5), length=st.floats(1.0, 1e5))
    def test_equals_numerical_quadrature(self, air: AirSeries, start: float, length: float) -> None:
        found = air.mean(np.array([start]), np.array([start + length]))
        for value, expected in zip(found, quadrature(air, start, start + length), strict=True):
            assert float(value[0]) == pytest.approx(float(expected[0]), rel=1e-9, abs=1e-9)

    @given(air=airs(), start=st.floats(-2e4, 1e5), length=st.floats(1.0, 1e5))
    def test_lies_between_the_lowest_and_the_highest(
        self, air: AirSeries, start: float, length: float
    ) -> None:
        """Exactly, rounding and all: still air is never found to blow backwards."""
        found = air.mean(np.array([start]), np.array([start + length]))
        for value, row in zip(found, air._values, strict=True):
            assert row.min() <= float(value[0]) <= row.max()

    @given(air=airs(), cuts=st.lists(st.floats(0.0, 9e4), min_size=3, max_size=3, unique=True))
    def test_two_parts_make_the_whole(self, air: AirSeries, cuts: list[float]) -> None:
        a, b, c = sorted(cuts)
        if min(b - a, c - b) < 1.0:
            return
        parts = (mean(air, a, b) * (b - a) + mean(air, b, c) * (c - b)) / (c - a)
        assert mean(air, a, c) == pytest.approx(parts, rel=1e-9)


class TestLines:
    def test_each_step_has_the_mean_of_its_own_series(self) -> None:
        several = [swinging(24.0), swinging(24.0, humidity=0.3, swing=0.1), swinging(24.0, humidity=0.9)]
        lines = Lines(several[0].time_s, np.stack([air._values for air in several], axis=1))
        start, end, which = np.array([0.0, 900.0, 7e4, 2e5]), np.array([60.0, 3e4, 9e4, 3e5]), [2, 0, 1, 1]
        found = lines.mean(start, end, np.array(which))
        for i, series in enumerate(which):
            alone = several[series].mean(start[i : i + 1], end[i : i + 1])
            assert [float(v[i]) for v in found] == pytest.approx([float(v[0]) for v in alone], rel=1e-12)


class TestRefused:
    @pytest.mark.parametrize("time_s", [[0.0, 0.0], [10.0, 5.0], [0.0, 1.0, 1.0]])
    def test_times_must_increase(self, time_s: list[float]) -> None:
        with pytest.raises(ValueError, match="increase"):
            series(time_s, [290.0] * len(time_s))

    def test_at_least_one_point(self) -> None:
        with pytest.raises(ValueError, match="at least one point"):
            series([], [])

    @pytest.mark.parametrize("value", [float("nan"), float("inf")])
    def test_nothing_but_numbers(self, value: float) -> None:
        with pytest.raises(ValueError, match="finite"):
            series([0.0, 1.0], [290.0, value])

    def test_a_time_that_is_no_number_does_not_increase(self) -> None:
        with pytest.raises(ValueError, match="increase"):
            series([0.0, float("nan")], [290.0, 290.0])

    def test_one_point_is_enough(self) -> None:
        assert at(series([5.0], [290.0]), 0.0) == 290.0


def test_a_whole_day_of_a_swing_means_its_level() -> None:
    air = swinging(24.0)
    assert mean(air, 0.0, 86400.0) == pytest.approx(290.0, abs=1e-6)
