"""What outside does to a room: learned where it does something, blended by how sure each forecast is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.drying.air import vapour_density_kg_m3
from service.drying.weather import AirSeries
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.heard import Array
from service.room.kriging import BLOCKS, HISTORY_H, NODES_H
from service.room.outside import (
    AHEAD_H,
    FOLLOWS_H,
    LEAST_HOURS,
    OFF_K2,
    OFF_K2_H,
    Outlook,
    Outside,
    _followed,
    doubt_outside,
    drift_of,
    followed_hours,
    look_outside,
)
from tests.service.room.cases import T0, h, room_air

HOURS = HISTORY_H + AHEAD_H + 1
NOW_S = (T0 + h(HISTORY_H)).timestamp()
NEVER = np.full(HISTORY_H, np.nan)


def wandering(seed: int, deviation: float, tau_h: float, hours: int = HOURS) -> Array:
    draw, keeps = np.random.default_rng(seed), np.exp(-1.0 / tau_h)
    out = draw.normal(0.0, deviation, hours)
    for i in range(1, hours):
        out[i] = keeps * out[i - 1] + np.sqrt(1 - keeps**2) * out[i]
    return out


def weather(seed: int = 1) -> tuple[Array, Array]:
    """By time: temperature with a daily swing, and humidity; 28 days and a week."""
    hour = np.arange(HOURS)
    kelvin = 283.0 + wandering(seed, 4.0, 50.0) + 4.0 * np.sin(2 * np.pi * (hour - 9) / 24)
    return kelvin, np.clip(0.7 + wandering(seed + 1, 0.1, 20.0), 0.2, 1.0)


def newest_first(column: Array) -> Array:
    return column[:HISTORY_H][::-1]


def known(kelvin: Array, humidity: Array) -> Outlook:
    """A forecast that is right."""
    ahead = slice(HISTORY_H - 1, HISTORY_H + AHEAD_H)
    return Outlook(kelvin[ahead], vapour_density_kg_m3(kelvin[ahead], humidity[ahead]), 0.01, 0.01)


def outside(outlook: bool = True, seed: int = 1) -> Outside:
    kelvin, humidity = weather(seed)
    found = look_outside(
        newest_first(kelvin), newest_first(humidity), known(kelvin, humidity) if outlook else None
    )
    assert found is not None
    return found


def room_of(hourly_k: Array, humidity: float = 0.5) -> RoomAir:
    """A room with these hourly temperatures up to now."""
    air = room_air(hours=HISTORY_H, humidity=humidity)
    hour = (air.series.time_s - T0.timestamp()) / 3600.0
    s = air.series
    kelvin = np.interp(hour, np.arange(HISTORY_H) + 0.5, hourly_k[:HISTORY_H])
    return replace(air, series=AirSeries(s.time_s, kelvin, s.humidity, s.speed_m_s, s.pressure_pa))


def lagged(column: Array, lag_h: float) -> Array:
    out, keeps = column.copy(), np.exp(-1.0 / lag_h)
    for i in range(1, column.size):
        out[i] = keeps * out[i - 1] + (1 - keeps) * column[i]
    return out


class TestFollowing:
    @pytest.mark.parametrize("lag_h", FOLLOWS_H)
    def test_a_step_is_followed_as_one_capacity_does(self, lag_h: float) -> None:
        """1 - exp(-t / tau) after t (any text on heat transfer: lumped capacity)."""
        past, ahead = np.zeros(HISTORY_H), np.full(AHEAD_H + 1, 1.0)
        after = _followed(past, ahead, lag_h)[HISTORY_H : HISTORY_H + 24]
        assert after == pytest.approx(1.0 - np.exp(-np.arange(1, 25) / lag_h), abs=1e-3)

    def test_unknown_hours_pull_nowhere(self) -> None:
        past = NEVER.copy()
        past[:100] = 290.0
        assert _followed(past, np.full(AHEAD_H + 1, 290.0), 6.0) == pytest.approx(
            np.zeros(HISTORY_H + AHEAD_H)
        )

    def test_of_weather_that_stands_nothing_is_to_follow(self) -> None:
        still = Outside(
            *(np.full(n, v) for n, v in ((HISTORY_H, 283.0), (HISTORY_H, 0.006))),
            *(np.full(AHEAD_H + 1, v) for v in (283.0, 0.006, 0.5, 1e-4)),
        )
        drift = drift_of(still, (1.0, 6.0))
        assert not np.abs(drift.blocks).max() > 1e-9
        assert drift.blocks.shape == (2 * BLOCKS, 9)
        assert drift.leads.shape == (4, 9)
        assert drift.nodes.shape == (2 * len(NODES_H), 9)

    def test_temperature_follows_temperature_alone(self) -> None:
        drift = drift_of(outside(), (1.0,))
        assert not drift.blocks[:BLOCKS, 3:].any()
        assert not drift.blocks[BLOCKS:, :3].any()
        assert drift.blocks[BLOCKS:, 3:].any(axis=0).all()

    def test_what_was_followed_is_told_by_the_hour(self) -> None:
        there = outside()
        weights = np.zeros(9)
        weights[1] = 1.0
        kelvin, humidity = followed_hours(weights, there)
        assert kelvin.size == HISTORY_H
        assert not humidity.any()
        blocks = drift_of(there, (1.0,)).blocks[:BLOCKS] @ weights
        assert kelvin[100] == pytest.approx(
            np.interp(100.5, [97.5, 103.5], [blocks[50], blocks[51]]), abs=1.5
        )


class TestAhead:
    def test_too_little_known_is_nothing(self) -> None:
        few = NEVER.copy()
        few[: LEAST_HOURS - 1] = 285.0
        assert look_outside(few, few / 500.0) is None
        few[LEAST_HOURS - 1] = 285.0
        assert look_outside(few, few / 500.0) is not None

    def test_an_hour_with_one_of_both_does_not_count(self) -> None:
        kelvin, humidity = (newest_first(column) for column in weather())
        half = np.where(np.arange(HISTORY_H) < LEAST_HOURS - 1, humidity, np.nan)
        assert look_outside(kelvin, half) is None

    def test_by_itself_it_is_surer_near_than_far(self) -> None:
        there = outside(outlook=False)
        assert there.spread_k[1] < there.spread_k[12] < there.spread_k[72]
        assert there.spread_vapour[1] < there.spread_vapour[12] < there.spread_vapour[72]

    def test_a_forecast_that_was_given_makes_it_surer(self) -> None:
        assert (outside().spread_k < outside(outlook=False).spread_k).all()

    def test_both_are_weighed_by_their_variances(self) -> None:
        """Bates and Granger 1969, eq. 1 with errors that have nothing in common: w = s2 / (s1 + s2)."""
        kelvin, humidity = weather()
        own = outside(outlook=False)
        given_ = Outlook(own.ahead_k + 10.0, own.ahead_vapour)
        both = look_outside(newest_first(kelvin), newest_first(humidity), given_)
        assert both is not None
        own2, given2 = own.spread_k[24] ** 2, OFF_K2 + 24 * OFF_K2_H
        assert both.ahead_k[24] - own.ahead_k[24] == pytest.approx(10.0 * own2 / (own2 + given2))
        assert both.spread_k[24] ** 2 == pytest.approx(own2 * given2 / (own2 + given2))

    def test_one_that_was_far_off_before_counts_for_little(self) -> None:
        kelvin, humidity = weather()
        own = outside(outlook=False)
        poor = Outlook(own.ahead_k + 10.0, own.ahead_vapour, 400.0, 400.0)
        both = look_outside(newest_first(kelvin), newest_first(humidity), poor)
        assert both is not None
        assert both.ahead_k == pytest.approx(own.ahead_k, abs=0.5)

    def test_where_it_ends_it_goes_on_by_itself(self) -> None:
        kelvin, humidity = weather()
        short = known(kelvin, humidity)
        hour = np.arange(AHEAD_H + 1)
        short = replace(short, temperature_k=np.where(hour > 48, np.nan, short.temperature_k))
        both = look_outside(newest_first(kelvin), newest_first(humidity), short)
        own = outside(outlook=False)
        assert both is not None
        assert both.ahead_k[49:] == pytest.approx(own.ahead_k[49:])
        assert both.spread_k[49:] == pytest.approx(own.spread_k[49:])


class TestRoom:
    """A room that follows outside by 0.7 with six hours' lag, and outside a front comes in."""

    def front(self) -> tuple[Array, Array]:
        kelvin, humidity = weather(seed=6)
        kelvin[HISTORY_H + 6 :] -= 12.0
        return kelvin, humidity

    def test_a_front_that_is_forecast_reaches_the_room(self) -> None:
        kelvin, humidity = self.front()
        true = 293.0 + 0.7 * (lagged(kelvin, 6.0) - 283.0) + wandering(9, 0.2, 5.0)
        there = look_outside(newest_first(kelvin), newest_first(humidity), known(kelvin, humidity))
        room = room_of(true)
        blind, seeing = forecast_air(room, NOW_S, 2 * 86400.0), forecast_air(room, NOW_S, 2 * 86400.0, there)
        came = np.interp(np.arange(97) / 2.0, np.arange(49), true[HISTORY_H - 1 : HISTORY_H + 48])
        off = np.abs(seeing.series.temperature_k - came)
        assert off.mean() < 0.6
        assert np.abs(blind.series.temperature_k - came).mean() > 3 * off.mean()
        assert (seeing.spread_k[10:] < blind.spread_k[10:]).all()

    def test_a_room_that_has_nothing_to_do_with_it_is_left_alone(self) -> None:
        kelvin, humidity = self.front()
        room = room_of(294.0 + wandering(20, 0.5, 10.0))
        there = look_outside(newest_first(kelvin), newest_first(humidity), known(kelvin, humidity))
        blind, seeing = forecast_air(room, NOW_S, 2 * 86400.0), forecast_air(room, NOW_S, 2 * 86400.0, there)
        assert np.abs(seeing.series.temperature_k - blind.series.temperature_k).max() < 1.0

    def test_damp_weather_dampens_the_room(self) -> None:
        kelvin, humidity = weather(seed=8)
        humidity[HISTORY_H + 4 :] = np.clip(humidity[HISTORY_H + 4 :] + 0.25, 0, 1)
        vapour = lagged(vapour_density_kg_m3(kelvin, humidity), 2.0)
        share = np.clip(vapour / vapour_density_kg_m3(294.15, 1.0), 0.05, 1.0)
        air = room_air(hours=HISTORY_H)
        s = air.series
        at = np.interp((s.time_s - T0.timestamp()) / 3600.0, np.arange(HOURS) + 0.5, share)
        room = replace(air, series=AirSeries(s.time_s, s.temperature_k, at, s.speed_m_s, s.pressure_pa))
        there = look_outside(newest_first(kelvin), newest_first(humidity), known(kelvin, humidity))
        seeing = forecast_air(room, NOW_S, 86400.0, there).series.humidity
        came = share[HISTORY_H - 1 + np.arange(0, 25, 6)]
        assert seeing[::12] == pytest.approx(came, abs=0.06)

    def test_it_is_told_that_outside_was_heeded(self) -> None:
        room = room_of(294.0 + wandering(20, 0.5, 10.0))
        how = forecast_air(room, NOW_S, 86400.0, outside()).how
        assert how == "level, trend and daily swing of 28 days, and the air outside"

    def test_silent_for_weeks_it_is_not(self) -> None:
        """Outside is known around now, and there is nothing of the room to set it against."""
        air = room_air(hours=HISTORY_H + 40, gaps=[(5, HISTORY_H + 40)])
        found = forecast_air(air, (T0 + h(HISTORY_H + 40)).timestamp(), 86400.0, outside())
        assert "outside" not in found.how

    def test_what_outside_may_do_otherwise_is_part_of_the_doubt(self) -> None:
        there = outside()
        sure = replace(there, spread_k=0 * there.spread_k, spread_vapour=0 * there.spread_vapour)
        kelvin, _ = weather()
        room = room_of(293.0 + 0.7 * (lagged(kelvin, 6.0) - 283.0))
        doubtful = replace(there, spread_k=there.spread_k + 4.0)
        spreads = [forecast_air(room, NOW_S, 86400.0, one).spread_k[48] for one in (sure, there, doubtful)]
        assert spreads[0] < spreads[1] < spreads[2]
        assert spreads[2] > 0.5 * 0.7 * 4.0


@settings(deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=9, max_size=9))
def test_its_doubt_is_a_covariance(weights: list[float]) -> None:
    found = doubt_outside(np.array(weights), _THERE)
    assert found == pytest.approx(found.T)
    assert np.linalg.eigvalsh(found).min() > -1e-9 * max(1.0, np.abs(found).max())


_THERE = outside()
