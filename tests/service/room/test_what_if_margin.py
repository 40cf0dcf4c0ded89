"""What is left to a bell, counted in what the air takes up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying.air import saturation_pressure_pa
from service.drying.room_balance import Inside, inside_of
from service.drying.weather import AirSeries
from service.drying.wet_room import Running, Went
from service.room.what_if_margin import Drying

HOUR_S = 3600.0
TIMES = HOUR_S * np.arange(25.0)
ROOM = AirSeries.constant(293.15, 0.5, 0.4, 101325.0)


def air(humidity: float, rooms: int = 0) -> Inside:
    shape = (TIMES.size, rooms) if rooms else (TIMES.size,)
    return inside_of(np.full(shape, 293.15), humidity, 101325.0)


def went(after: float) -> Went:
    """A day at 50 % as forecast, and at another humidity then, in two rooms."""
    none = np.zeros(0)
    return Went(TIMES, air(0.5), air(after, 2), none, none, none, none, none)


def drying(after: float, *changes: Running) -> Drying:
    return Drying.of(went(after), ROOM, changes)


def bell_h(of: Drying, due_h: float, before_h: float, then_h: float) -> list[float]:
    return (of.bell_s(due_h * HOUR_S, before_h * HOUR_S, np.full(2, then_h * HOUR_S)) / HOUR_S).tolist()


class TestMargin:
    def test_the_same_air_the_same_margin(self) -> None:
        assert bell_h(drying(0.5), 9.0, 6.0, 4.0) == pytest.approx([7.0, 7.0])

    @pytest.mark.parametrize(("after", "hours"), [(0.25, 2.0), (0.75, 6.0), (0.0, 1.5)])
    def test_as_long_as_the_air_takes_for_as_much(self, after: float, hours: float) -> None:
        """Three hours at half of what it could take up."""
        assert bell_h(drying(after), 9.0, 6.0, 6.0) == pytest.approx([6.0 + hours] * 2, rel=1e-6)

    def test_no_margin_where_the_bell_is_the_likeliest_hour(self) -> None:
        assert bell_h(drying(0.9), 6.0, 6.0, 3.0) == pytest.approx([3.0, 3.0])

    def test_a_bell_before_the_likeliest_hour_keeps_its_lead(self) -> None:
        assert bell_h(drying(0.9), 5.0, 6.0, 4.0) == pytest.approx([3.0, 3.0])

    def test_beyond_what_was_looked_nobody_knows(self) -> None:
        assert np.isnan(bell_h(drying(0.99), 9.0, 6.0, 6.0)).all()
        assert np.isnan(bell_h(drying(0.5), 9.0, 6.0, float("nan"))).all()

    def test_a_bell_beyond_it_keeps_its_margin_in_hours(self) -> None:
        assert bell_h(drying(0.25), 30.0, 6.0, 4.0) == pytest.approx([28.0, 28.0])

    def test_full_air_takes_nothing_and_still_goes_on(self) -> None:
        assert np.isnan(bell_h(drying(1.0), 9.0, 6.0, 6.0)).all()


class TestSpeed:
    def test_four_times_the_speed_twice_as_quick(self) -> None:
        assert bell_h(drying(0.5, Running(0.0, speed_m_s=1.6)), 9.0, 6.0, 6.0) == pytest.approx([7.5, 7.5])

    def test_from_then_on(self) -> None:
        """An hour as it is, then the two hours that are left in one; to half a step."""
        assert bell_h(drying(0.5, Running(7 * HOUR_S, speed_m_s=1.6)), 9.0, 6.0, 6.0) == pytest.approx(
            [8.0, 8.0], abs=0.3
        )

    def test_switched_off_it_is_as_forecast_again(self) -> None:
        on, off = Running(0.0, speed_m_s=1.6), Running(HOUR_S, speed_m_s=None)
        assert bell_h(drying(0.5, off, on), 9.0, 6.0, 6.0) == pytest.approx([9.0, 9.0])


def test_it_is_vapour_that_is_counted() -> None:
    """In pascal seconds times the root of the speed."""
    total = drying(0.5).before
    hour = 0.5 * saturation_pressure_pa(np.array([293.15]))[0] * np.sqrt(0.4) * HOUR_S
    assert np.diff(total) == pytest.approx(np.full(24, hour), rel=1e-6)


def test_air_that_does_not_move_at_all_dries_next_to_nothing() -> None:
    still = replace(ROOM, speed_m_s=np.zeros_like(ROOM.speed_m_s))
    assert np.isfinite(Drying.of(went(0.5), still, ()).before).all()
