"""The air to come: the last hour's level, moved by the daily swing where days enough were seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.weather import AirSeries
from service.room.air_book import RoomAir
from service.room.air_forecast import DAMPEST, DAY_S, DRIEST, STEP_S, AirForecast, forecast_air
from service.room.heard import BIN_S, Array
from tests.service.room.cases import T0, h, room_air

HELD = "last hour held"


def now_after(hours: float) -> float:
    return (T0 + h(hours)).timestamp()


def forecast(air: RoomAir, hours_from_start: float, ahead_h: float = 48.0) -> AirForecast:
    return forecast_air(air, now_after(hours_from_start), ahead_h * 3600.0)


def changed(air: RoomAir, temperature_k: Array | None = None, humidity: Array | None = None) -> RoomAir:
    """The same air with other values (a series keeps what it was made of)."""
    s = air.series
    series = AirSeries(
        s.time_s,
        s.temperature_k if temperature_k is None else temperature_k,
        s.humidity if humidity is None else humidity,
        s.speed_m_s,
        s.pressure_pa,
    )
    return replace(air, series=series)


def last(air: RoomAir, bins: int, value: Array, to: float) -> Array:
    out = value.copy()
    out[-bins:] = to
    return out


def true_temperature(time_s: float, swing_k: float, level_k: float = 294.15) -> float:
    """What `room_air` says of any instant."""
    return float(level_k + 0.5 * swing_k * np.sin(2 * np.pi * (time_s % DAY_S - 12 * 3600) / DAY_S))


class TestHeld:
    def test_the_last_hour_is_held(self) -> None:
        air = room_air(hours=12)
        kelvin, humidity = (
            last(air, 13, air.series.temperature_k, 290.0),
            last(air, 13, air.series.humidity, 0.7),
        )
        air = changed(air, kelvin, humidity)
        found = forecast(air, 12)
        assert found.how == HELD
        assert found.series.temperature_k == pytest.approx(np.full(found.series.time_s.size, 290.0))
        assert found.series.humidity == pytest.approx(np.full(found.series.time_s.size, 0.7))

    def test_the_level_is_the_mean_of_the_hour_and_not_its_last_minute(self) -> None:
        air = room_air(hours=12)
        air = changed(air, last(air, 6, air.series.temperature_k, 296.15))
        assert forecast(air, 12).series.temperature_k[0] == pytest.approx(295.15, abs=0.2)

    def test_with_less_than_an_hour_of_air_what_there_is(self) -> None:
        air = room_air(hours=0.25)
        found = forecast(air, 0.25)
        assert found.series.temperature_k == pytest.approx(np.full(found.series.time_s.size, 294.15))

    def test_with_one_reading(self) -> None:
        found = forecast(room_air(hours=BIN_S / 3600), 0.0)
        assert found.series.temperature_k[0] == pytest.approx(294.15)

    @pytest.mark.parametrize("hours", [24, 40])
    def test_until_two_days_were_measured_there_is_no_swing(self, hours: float) -> None:
        assert forecast(room_air(hours=hours, swing_k=8.0), hours).how == HELD

    def test_speed_and_pressure_are_held(self) -> None:
        found = forecast(room_air(hours=100, swing_k=8.0), 100)
        assert set(found.series.speed_m_s.tolist()) == {0.2}
        assert found.series.pressure_pa == pytest.approx(np.full(found.series.time_s.size, 101325.0))


class TestTimes:
    def test_from_now_on_in_half_hours_over_the_whole_span(self) -> None:
        found = forecast(room_air(hours=12), 12.1, ahead_h=24)
        t = found.series.time_s
        assert t[0] == now_after(12.1)
        assert set(np.diff(t).tolist()) == {float(STEP_S)}
        assert t[-1] >= now_after(12.1 + 24)


class TestSwing:
    @pytest.mark.parametrize(("hours", "days"), [(48, 2), (64, 2), (72, 3), (121, 5), (300, 5)])
    def test_says_of_how_many_days(self, hours: float, days: int) -> None:
        found = forecast(room_air(hours=hours, swing_k=8.0), hours)
        assert found.how == f"last hour and the daily swing of {days} days"

    @pytest.mark.parametrize("hours", [72.0, 78.3, 84.0, 90.75])
    def test_goes_on_as_the_days_before(self, hours: float) -> None:
        """A steady daily swing of 8 K is forecast within 0.5 K at any hour of the next two days."""
        found = forecast(room_air(hours=hours, swing_k=8.0), hours)
        expected = [true_temperature(t, 8.0) for t in found.series.time_s]
        assert found.series.temperature_k == pytest.approx(expected, abs=0.5)

    def test_a_colder_day_swings_about_its_own_level(self) -> None:
        air = room_air(hours=96, swing_k=8.0)
        colder = np.where(
            air.series.time_s > now_after(95), air.series.temperature_k - 5.0, air.series.temperature_k
        )
        air = changed(air, colder)
        found = forecast(air, 96)
        expected = [true_temperature(t, 8.0) - 5.0 for t in found.series.time_s]
        assert found.series.temperature_k == pytest.approx(expected, abs=0.6)

    def test_humidity_swings_too_and_stays_possible(self) -> None:
        air = room_air(hours=96)
        day = np.sin(2 * np.pi * air.series.time_s / DAY_S)
        found = forecast(changed(air, humidity=0.6 + 0.5 * day), 96).series.humidity
        assert found.min() >= DRIEST
        assert found.max() == DAMPEST


class TestGaps:
    def test_a_day_half_missed_does_not_count(self) -> None:
        """Of three days the middle one has a hole of ten hours."""
        found = forecast(room_air(hours=72, swing_k=8.0, gaps=[(30, 40)]), 72)
        assert found.how == "last hour and the daily swing of 2 days"

    def test_a_day_with_a_small_hole_does(self) -> None:
        found = forecast(room_air(hours=72, swing_k=8.0, gaps=[(30, 37)]), 72)
        assert found.how == "last hour and the daily swing of 3 days"

    def test_at_the_border_seven_tenths_of_a_day_do(self) -> None:
        exactly = 24 * 0.3 // (1 / 12) / 12
        days = [
            forecast(room_air(hours=72, gaps=[(24, 24 + gap)]), 72).how for gap in (exactly, exactly + 2 / 12)
        ]
        assert days == [f"last hour and the daily swing of {n} days" for n in (3, 2)]

    def test_days_before_the_sensor_was_hung_do_not_count(self) -> None:
        found = forecast(room_air(hours=144, swing_k=8.0, gaps=[(0, 110)]), 144)
        assert found.how == HELD

    def test_a_long_outage_leaves_the_days_before_it(self) -> None:
        found = forecast(room_air(hours=120, swing_k=8.0, gaps=[(48, 96)]), 120)
        assert found.how == "last hour and the daily swing of 3 days"

    def test_held_air_in_a_gap_does_not_blunt_the_swing(self) -> None:
        air = room_air(hours=96, swing_k=8.0, gaps=[(40, 46)])
        found = forecast(changed(air, np.where(air.measured, air.series.temperature_k, 250.0)), 96)
        expected = [true_temperature(t, 8.0) for t in found.series.time_s]
        assert found.series.temperature_k == pytest.approx(expected, abs=0.8)


class TestSilent:
    """No fresh readings: from the last good air on."""

    def test_without_a_swing_the_last_good_air_is_held(self) -> None:
        air = room_air(hours=20, gaps=[(10, 20)])
        air = changed(air, np.where(air.measured, 288.0, 250.0))
        assert forecast(air, 20).series.temperature_k[0] == pytest.approx(288.0, abs=2.0)
        assert forecast(air, 20).how == HELD

    def test_with_a_swing_the_hour_of_the_last_good_air_counts(self) -> None:
        """Silent since noon, asked at midnight: the swing goes on from noon, as if it had been heard."""
        air = room_air(hours=112, swing_k=8.0, gaps=[(100, 112)])
        held = float(air.series.temperature_k[air.measured][-1])
        found = forecast(changed(air, np.where(air.measured, air.series.temperature_k, held)), 112)
        expected = [true_temperature(t, 8.0) for t in found.series.time_s]
        assert found.how.endswith("days")
        assert found.series.temperature_k == pytest.approx(expected, abs=0.6)

    def test_silent_for_longer_than_any_day_that_counts(self) -> None:
        air = room_air(hours=400, swing_k=8.0, gaps=[(30, 400)])
        assert forecast(air, 400).how == HELD


@given(
    hours=st.floats(1, 200),
    swing_k=st.floats(0, 30),
    humidity=st.floats(0, 1),
    gap=st.tuples(st.floats(0, 150), st.floats(0, 100)),
)
def test_any_air_has_a_possible_forecast(
    hours: float, swing_k: float, humidity: float, gap: tuple[float, float]
) -> None:
    air = room_air(hours=hours, swing_k=swing_k, humidity=humidity, gaps=[(gap[0], gap[0] + gap[1])])
    if not air.measured.any():
        return
    found = forecast(air, hours).series
    assert np.all((found.humidity >= DRIEST) & (found.humidity <= DAMPEST))
    assert np.all(np.abs(found.temperature_k - 294.15) <= swing_k * 1.5 + 1e-6)
