"""Bells against made-up waits: what they lose, and that a tuned rule really is the best of its kind."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.weather import AirSeries
from tests.skill.bells import RATES, TIMER, Rung, best, by_number, clocks, rung, tuned, tuned_rung
from tests.skill.life import Forecast, Wait

HOUR_S = 3600.0
LATER = Forecast(0.0, 0.0, 0.0, 0.0, 0.0)
DAY = np.arange(0.0, 100 * HOUR_S, 600.0)


def wait(dip_h: float, ready_h: float, least_h: float = 0.0, kind: str = "backup") -> Wait:
    """Full at the dip, straight down to 0.35 when ready, and on until dry. Hours from the dip."""
    per_hour = 0.65 / ready_h
    time_h = np.linspace(0.0, 1.0 / per_hour, 400)
    dip_s = dip_h * HOUR_S
    return Wait(
        1,
        1,
        kind,
        0,
        dip_s,
        dip_s + least_h * HOUR_S,
        dip_s + ready_h * HOUR_S,
        dip_s + time_h * HOUR_S,
        1.0 - per_hour * time_h,
        LATER,
        LATER,
        None,
        dip_s,
    )


def still_air(humidity: float = 0.5) -> AirSeries:
    even = np.ones(DAY.size)
    return AirSeries(DAY, 293.15 * even, humidity * even, 0.5 * even, 101325.0 * even)


def some_waits(seed: int = 4, many: int = 30) -> list[Wait]:
    draw = np.random.default_rng(seed)
    kinds = np.where(draw.random(many) < 0.3, "prime", "backup")
    return [wait(float(draw.uniform(0, 40)), float(draw.uniform(2, 8)), 3.0, str(kind)) for kind in kinds]


class TestRung:
    def test_a_bell_just_then_loses_nothing_and_is_at_the_limit(self) -> None:
        met = rung([wait(1.0, 4.0)], np.array([5.0 * HOUR_S]))
        assert met.lost_h[0] == pytest.approx(0.0, abs=1e-9)
        assert met.wet[0] == pytest.approx(0.35, abs=1e-6)

    def test_a_late_bell_loses_its_hours(self) -> None:
        assert rung([wait(1.0, 4.0)], np.array([7.0 * HOUR_S])).lost_h[0] == pytest.approx(2.0)

    def test_an_early_bell_is_wet_and_loses_nothing(self) -> None:
        met = rung([wait(1.0, 4.0)], np.array([3.0 * HOUR_S]))
        assert met.lost_h[0] == 0.0
        assert met.wet[0] == pytest.approx(0.675, abs=1e-6)

    def test_the_least_wait_is_nobodys_loss(self) -> None:
        assert rung([wait(0.0, 2.0, least_h=3.0)], np.array([3.5 * HOUR_S])).lost_h[0] == pytest.approx(0.5)

    def test_shares_count_what_is_above(self) -> None:
        met = Rung(np.array([0.2, 0.35, 0.36, 0.5]), np.zeros(4))
        assert met.share_above(0.35) == 0.5
        assert met.share_above(0.4) == 0.25


class TestClocks:
    def test_the_timer_counts_seconds(self) -> None:
        timer = clocks(still_air())[TIMER]
        assert timer.at(5 * HOUR_S) - timer.at(2 * HOUR_S) == pytest.approx(3 * HOUR_S)

    def test_a_deficit_counts_what_the_air_lacks(self) -> None:
        """Saturation pressure at 20 degC: 2338.8 Pa (ASHRAE 2017, ch. 1, table 3: 2.3389 kPa, from memory)."""
        counted = clocks(still_air(0.6))["deficit hours"]
        assert float(counted.at(HOUR_S)) == pytest.approx(0.4 * 2338.8 * HOUR_S, rel=1e-3)

    @pytest.mark.parametrize("name", RATES)
    def test_it_runs_back_the_way_it_came(self, name: str) -> None:
        clock = clocks(still_air())[name]
        assert clock.when(clock.at(7.3 * HOUR_S)) == pytest.approx(7.3 * HOUR_S)

    def test_a_bell_by_number_keeps_the_least_wait(self) -> None:
        bells = by_number([wait(1.0, 4.0, 3.0), wait(2.0, 4.0)], clocks(still_air())[TIMER], 2 * HOUR_S)
        assert bells == pytest.approx([4 * HOUR_S, 4 * HOUR_S])


class TestTuned:
    @pytest.mark.parametrize("most_wet", [0, 1, 5])
    def test_no_shorter_timer_rings_as_few_wet_bells(self, most_wet: int) -> None:
        """Against all timers of a fine grid: those with no more wet bells lose no fewer hours."""
        waits = some_waits()
        timer = clocks(still_air())[TIMER]
        number = tuned(waits, timer, 0.35, most_wet)
        ours = rung(waits, by_number(waits, timer, number))
        assert int(np.sum(ours.wet > 0.35 + 1e-9)) <= most_wet
        for other in np.arange(0.5, 12.0, 0.05) * HOUR_S:
            tried = rung(waits, by_number(waits, timer, other))
            if np.sum(tried.wet > 0.35 + 1e-9) <= most_wet:
                assert ours.lost_h.sum() <= tried.lost_h.sum() + 1e-9

    def test_more_wet_bells_allowed_lose_fewer_hours(self) -> None:
        waits = some_waits()
        timer = clocks(still_air())[TIMER]
        lost = [
            rung(waits, by_number(waits, timer, tuned(waits, timer, 0.35, wet))).lost_h.sum()
            for wet in (0, 2, 6, 30)
        ]
        assert lost == sorted(lost, reverse=True)
        assert lost[-1] == 0.0
        assert lost[0] > lost[2]

    def test_each_kind_has_a_number_of_its_own(self) -> None:
        waits = [wait(0.0, 2.0, kind="prime"), wait(0.0, 9.0)]
        none_wet = Rung(np.full(2, 0.1), np.zeros(2))
        met = tuned_rung(waits, clocks(still_air())[TIMER], 0.35, none_wet)
        assert met.lost_h == pytest.approx(0.0, abs=1e-6)

    def test_a_rule_that_sees_the_air_beats_the_timer_where_air_is_all(self) -> None:
        """Half the coats hang in air that takes nothing for two hours: the deficit waits with them."""
        humid = np.where((DAY > 10 * HOUR_S) & (DAY < 12 * HOUR_S), 1.0, 0.5)
        even = np.ones(DAY.size)
        air = AirSeries(DAY, 293.15 * even, humid, even, 101325.0 * even)
        waits = [wait(1.0, 4.0), wait(8.0, 6.0)]
        none_wet = Rung(np.full(2, 0.1), np.zeros(2))
        every = clocks(air)
        name, met = best(waits, every, 0.35, none_wet)
        assert name != TIMER
        assert met.lost_h.mean() < 0.2
        assert tuned_rung(waits, every[TIMER], 0.35, none_wet).lost_h.mean() > 0.9
