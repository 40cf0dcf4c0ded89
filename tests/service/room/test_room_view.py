"""What a screen is told of a room."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.drying.air import standard_pressure_pa
from service.reading import Freshness, Quantity
from service.records.shop_facts import Room, Site
from service.room.air_book import AirBook, RoomAir
from service.room.air_forecast import DAMPEST, DRIEST, forecast_air
from service.room.progress import Progress
from service.room.room_view import RoomState, room_view, usual_pressure_pa
from service.room.views import RoomNow, SensorNow
from service.units import Units
from tests.service.room.cases import (
    PRESSURE_PA,
    ROOM,
    SITE,
    T0,
    WARM_K,
    h,
    minutes,
    mould,
    reading,
    readings,
    room_air,
    room_state,
    sensor,
)

TEMPERATURE, HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
FRESH, LATE, STALE, NEVER = Freshness.FRESH, Freshness.LATE, Freshness.STALE, Freshness.NEVER


def test_a_dead_humidity_element_makes_the_room_stale_beside_a_live_temperature() -> None:
    now = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
    values = (
        (Quantity.AIR_TEMPERATURE, 294.0, now),
        (Quantity.RELATIVE_HUMIDITY, 0.5, now - timedelta(hours=3)),
    )
    each = ((Quantity.AIR_TEMPERATURE, Freshness.FRESH), (Quantity.RELATIVE_HUMIDITY, Freshness.STALE))
    sensor = SensorNow("bench", 1, Freshness.FRESH, now, values, freshness_of=each)
    state = RoomState(Room(1, "Shell room"), None, None, (sensor,))
    assert state.freshness is Freshness.STALE
    assert state.guessing_since == now - timedelta(hours=3)


class TestFreshness:
    def test_no_sensors(self) -> None:
        assert room_state().freshness is NEVER
        assert room_state().last_good is None
        assert room_state().guessing_since is None

    @pytest.mark.parametrize("freshness", [FRESH, LATE, STALE])
    def test_of_one_sensor_is_its_own(self, freshness: Freshness) -> None:
        assert room_state(sensors=[sensor(freshness=freshness)]).freshness is freshness

    def test_the_freshest_of_several_that_tell_the_same(self) -> None:
        assert room_state(sensors=[sensor(freshness=STALE), sensor("beam", FRESH)]).freshness is FRESH

    def test_the_staler_of_warmth_and_damp(self) -> None:
        warmth = sensor("wall", FRESH, quantities=[TEMPERATURE])
        damp = sensor("beam", LATE, quantities=[HUMIDITY])
        assert room_state(sensors=[warmth, damp]).freshness is LATE

    def test_warmth_alone_is_never(self) -> None:
        assert room_state(sensors=[sensor(quantities=[TEMPERATURE])]).freshness is NEVER

    def test_a_wind_sensor_does_not_count(self) -> None:
        wind = sensor("fan", FRESH, quantities=[Quantity.AIR_SPEED])
        assert room_state(sensors=[sensor(freshness=STALE), wind]).freshness is STALE


class TestLastGood:
    def test_when_both_were_last_heard(self) -> None:
        warmth = sensor("wall", FRESH, T0 + h(2), [TEMPERATURE])
        damp = sensor("beam", STALE, T0 + h(1), [HUMIDITY])
        assert room_state(sensors=[warmth, damp]).last_good == T0 + h(1)

    def test_the_newest_of_several(self) -> None:
        assert room_state(sensors=[sensor(at=T0), sensor("beam", at=T0 + h(3))]).last_good == T0 + h(3)

    def test_after_a_restart_what_is_recorded_says(self) -> None:
        """Nothing was heard in this run yet."""
        silent = sensor(freshness=NEVER, at=T0 + h(2), quantities=[])
        assert room_state(room_air(hours=2), sensors=[silent]).last_good == T0 + h(2) - minutes(2.5)

    def test_after_a_restart_a_value_held_in_the_book_is_not_taken_for_a_reading(self) -> None:
        silent = [sensor(name, STALE, at, []) for name, at in (("wall", T0 + h(1)), ("beam", T0))]
        assert room_state(room_air(hours=2), sensors=silent).last_good == T0 + h(1)


class TestGuessing:
    @pytest.mark.parametrize(("freshness", "guesses"), [(FRESH, False), (LATE, False), (STALE, True)])
    def test_only_once_stale(self, freshness: Freshness, guesses: bool) -> None:
        state = room_state(sensors=[sensor(freshness=freshness, at=T0)])
        assert state.guessing_since == (T0 if guesses else None)

    def test_since_what_is_recorded_where_no_sensor_hangs_any_more(self) -> None:
        assert room_state(room_air(hours=2)).guessing_since == T0 + h(2) - minutes(2.5)


def seen(
    air: RoomAir | None,
    now: datetime,
    moulds: list[Progress] | None = None,
    freshness: Freshness = FRESH,
    site: Site | None = SITE,
    own: dict[int, RoomAir | None] | None = None,
) -> RoomNow:
    """`own`: of moulds that hung elsewhere before, their air."""
    to_come = forecast_air(air, now.timestamp(), 7 * 86400.0) if air else None
    state, here = room_state(air, to_come, [sensor(freshness=freshness, at=now)]), moulds or []
    return room_view(state, here, site, now, {p.mould_id: air for p in here} | (own or {}))


class TestUnmeasured:
    def test_nothing_is_known_and_nothing_made_up(self) -> None:
        room = room_view(room_state(), [], SITE, T0, {})
        assert (room.temperature_k, room.humidity, room.speed_m_s, room.swing_k) == (None, None, None, None)
        assert (room.last_day, room.forecast, room.forecast_how) == ((), (), "")
        assert not room.speed_measured
        assert not room.pressure_measured
        assert room.out_of_limits == ()

    def test_before_the_site_is_known_it_is_at_the_sea_and_in_metric(self) -> None:
        assert room_view(room_state(), [], None, T0, {}).pressure_pa == pytest.approx(101325.0)

    def test_the_pressure_is_that_of_the_altitude(self) -> None:
        high = Site("Saltmarsh Bronze", 1600.0, "UTC", Units.METRIC)
        assert usual_pressure_pa(high) == pytest.approx(float(standard_pressure_pa(1600.0)))
        assert room_view(room_state(), [], high, T0, {}).pressure_pa == usual_pressure_pa(high)


class TestNow:
    def test_the_air_of_now(self) -> None:
        room = seen(room_air(hours=10), T0 + h(10))
        assert (room.temperature_k, room.humidity, room.speed_m_s) == pytest.approx((WARM_K, 0.5, 0.2))
        assert room.pressure_pa == pytest.approx(PRESSURE_PA)
        assert room.freshness is FRESH
        assert room.room == ROOM

    def test_stale_air_is_still_shown_and_said_to_be_stale(self) -> None:
        room = seen(room_air(hours=10), T0 + h(10), freshness=STALE)
        assert room.temperature_k == pytest.approx(WARM_K)
        assert room.freshness is STALE

    def test_measured_wind_and_pressure_are_told_from_the_usual(self) -> None:
        book = AirBook()
        book.add([*readings(T0, 1), reading(T0 + minutes(50), 1.2, Quantity.AIR_SPEED)])
        book.add([reading(T0 + minutes(50), 99000.0, Quantity.PRESSURE)])
        room = seen(book.air(T0, T0 + h(1), 0.2, PRESSURE_PA), T0 + h(1))
        assert room.speed_measured
        assert room.pressure_measured
        assert (room.speed_m_s, room.pressure_pa) == (1.2, 99000.0)


class TestLimits:
    def test_said_while_the_air_is_known(self) -> None:
        warm = room_air(hours=10, temperature_k=300.15)
        assert seen(warm, T0 + h(10), [mould(1)]).out_of_limits == (
            "Too warm for prime coats: 27.0 °C, wanted at most 23.0 °C",
        )

    def test_not_said_of_air_that_is_only_held(self) -> None:
        warm = room_air(hours=10, temperature_k=300.15)
        assert seen(warm, T0 + h(10), [mould(1)], freshness=STALE).out_of_limits == ()

    def test_in_the_sites_units(self) -> None:
        us = Site("Saltmarsh Bronze", 0.0, "UTC", Units.US)
        warm = room_air(hours=10, temperature_k=300.15)
        assert "81 °F" in seen(warm, T0 + h(10), [mould(1)], site=us).out_of_limits[0]

    def test_prime_on(self) -> None:
        assert seen(None, T0 + h(10), [mould(1)]).prime_on
        assert not seen(None, T0 + h(10), [mould(1, 2, 3)]).prime_on


class TestSwing:
    def test_of_the_last_day_where_no_prime_is_on(self) -> None:
        air = room_air(hours=48, swing_k=6.0)
        assert seen(air, T0 + h(48)).swing_k == pytest.approx(6.0, abs=0.01)

    def test_since_the_first_prime_coat_of_those_on(self) -> None:
        """From 17 to 20 h the shed stands near its warmest: hardly any swing."""
        air = room_air(hours=12, swing_k=6.0)
        day = seen(air, T0 + h(12)).swing_k
        since = seen(air, T0 + h(12), [mould(9)]).swing_k
        assert day is not None
        assert since is not None
        assert since < 0.5 < day

    def test_the_earliest_of_several_moulds(self) -> None:
        air = room_air(hours=12, swing_k=6.0)
        both = seen(air, T0 + h(12), [mould(11), mould(2)]).swing_k
        alone = seen(air, T0 + h(12), [mould(2)]).swing_k
        assert both == alone

    def test_the_first_prime_counts_though_the_second_is_the_newest(self) -> None:
        air = room_air(hours=12, swing_k=6.0)
        assert seen(air, T0 + h(12), [mould(2, 11)]).swing_k == seen(air, T0 + h(12), [mould(2)]).swing_k

    def test_never_more_than_a_day_back(self) -> None:
        air = room_air(hours=72)
        spiked = air.series.temperature_k
        spiked[: 24 * 12] = 280.0
        assert seen(air, T0 + h(72), [mould(1)]).swing_k == pytest.approx(0.0)

    def test_held_air_does_not_count(self) -> None:
        air = room_air(hours=24, gaps=[(3, 24)])
        air.series.temperature_k[~air.measured] = 250.0
        assert seen(air, T0 + h(24)).swing_k == pytest.approx(0.0)

    def test_of_the_air_a_mould_hung_in_not_of_the_rooms_before_it_came(self) -> None:
        swung = room_air(hours=12, swing_k=6.0)
        even, moved = room_air(hours=12), mould(1)
        assert seen(swung, T0 + h(12), [moved], own={1: even}).swing_k == pytest.approx(0.0)
        assert seen(even, T0 + h(12), [moved], own={1: swung}).swing_k == pytest.approx(5.1, abs=0.1)

    def test_the_largest_of_several_moulds(self) -> None:
        swung, even = room_air(hours=12, swing_k=6.0), room_air(hours=12)
        both = [mould(1), mould(1, mould_id=2)]
        alone = seen(swung, T0 + h(12), both[1:]).swing_k
        assert seen(even, T0 + h(12), both, own={2: swung}).swing_k == alone

    def test_no_measured_air_since_the_prime_no_swing(self) -> None:
        air = room_air(hours=24, gaps=[(3, 24)])
        assert seen(air, T0 + h(24), [mould(10)]).swing_k is None


class TestLastDay:
    def test_ten_minute_means_of_twenty_four_hours(self) -> None:
        points = seen(room_air(hours=48), T0 + h(48)).last_day
        assert len(points) == 144
        assert points[0].at == T0 + h(24) + minutes(5)
        assert points[-1].at == T0 + h(48) - minutes(5)
        assert points[0].temperature_k == pytest.approx(WARM_K)

    def test_a_gap_stays_a_gap(self) -> None:
        points = seen(room_air(hours=24, gaps=[(10, 12)]), T0 + h(24)).last_day
        inside = [p for p in points if T0 + h(10) < p.at < T0 + h(12)]
        assert inside == []
        assert len(points) == 144 - 12 - 1

    def test_starts_with_the_first_air_there_is(self) -> None:
        points = seen(room_air(hours=2), T0 + h(2)).last_day
        assert points[0].at >= T0
        assert len(points) == 11

    def test_in_the_first_minutes_there_is_none(self) -> None:
        assert seen(room_air(hours=0.1), T0 + minutes(5)).last_day == ()


class TestForecast:
    def test_two_days_of_half_hours(self) -> None:
        room = seen(room_air(hours=10), T0 + h(10))
        assert room.forecast[0].at == T0 + h(10)
        assert room.forecast[-1].at == T0 + h(58)
        assert len(room.forecast) == 97
        assert room.forecast_how == "the little that was read so far"

    def test_each_with_its_ten_and_ninety_per_cent(self) -> None:
        room = seen(room_air(hours=60, swing_k=6.0, humidity=0.97), T0 + h(60))
        for p in room.forecast:
            assert p.temperature_low_k < p.temperature_k < p.temperature_high_k
            assert DRIEST <= p.humidity_low <= p.humidity <= p.humidity_high <= DAMPEST
        wide = [p.temperature_high_k - p.temperature_low_k for p in room.forecast]
        assert wide[0] < wide[12] < wide[48]

    def test_the_band_is_what_a_normal_error_keeps_to_in_eight_of_ten(self) -> None:
        """The 90 % point of the standard normal distribution is 1.2816 (any table)."""
        air = room_air(hours=60, swing_k=6.0)
        p = seen(air, T0 + h(60)).forecast[10]
        spread = forecast_air(air, (T0 + h(60)).timestamp(), 86400.0).spread_k[10]
        assert p.temperature_high_k - p.temperature_k == pytest.approx(1.2816 * spread)


def test_just_after_a_start_a_sensor_is_as_fresh_as_what_it_said_before() -> None:
    now = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
    for before in Freshness:
        sensor = SensorNow("bench", 1, before, now, ())
        assert RoomState(Room(1, "Shell room"), None, None, (sensor,)).freshness is before
