"""The air of a wait, held against what the recipe asks."""

from __future__ import annotations

import numpy as np
import pytest

from service.records.recipes import AirLimits
from service.room.air_book import RoomAir
from service.room.air_faults import air_faults, swing_k, within_wait
from service.room.views import AirFault, AirWrong
from tests.service.room.cases import T0, room_air

START_S = T0.timestamp()
HOUR_S = 3600.0
LIMITS = AirLimits(
    lowest_temperature_k=293.0, highest_temperature_k=296.0, lowest_humidity=0.5, highest_humidity=0.7
)
SWING = AirLimits(largest_swing_k=1.7)


def air(temperature_k: float = 294.0, humidity: float = 0.6, **more: object) -> RoomAir:
    """Sixty hours of one air."""
    found = room_air(hours=60, **more)  # type: ignore[arg-type]
    found.series.temperature_k[:] = temperature_k
    found.series.humidity[:] = humidity
    return found


def between(of: RoomAir, from_h: float, to_h: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    hours = (of.series.time_s - START_S) / HOUR_S
    return (hours >= from_h) & (hours < to_h)


def faults(
    of: RoomAir,
    limits: AirLimits = LIMITS,
    from_h: float = 10.0,
    to_h: float = 20.0,
    first_dip_h: float = 2.0,
) -> tuple[AirFault, ...]:
    first, start, end = (START_S + hours * HOUR_S for hours in (first_dip_h, from_h, to_h))
    return air_faults(limits, of, first, start, end)


def test_air_as_asked_has_no_faults() -> None:
    assert faults(air()) == ()


def test_a_recipe_that_asks_nothing_of_the_air() -> None:
    assert faults(air(250.0, 1.0), AirLimits()) == ()


@pytest.mark.parametrize(
    ("temperature_k", "humidity", "wrong"),
    [
        (296.0, 0.7, []),
        (293.0, 0.5, []),
        (np.nextafter(296.0, 300.0), 0.7, [AirWrong.TOO_WARM]),
        (np.nextafter(293.0, 0.0), 0.5, [AirWrong.TOO_COLD]),
        (294.0, np.nextafter(0.7, 1.0), [AirWrong.TOO_DAMP]),
        (294.0, np.nextafter(0.5, 0.0), [AirWrong.TOO_DRY]),
        (297.0, 0.4, [AirWrong.TOO_WARM, AirWrong.TOO_DRY]),
    ],
)
def test_each_limit_itself_is_still_right(
    temperature_k: float, humidity: float, wrong: list[AirWrong]
) -> None:
    assert [fault.wrong for fault in faults(air(temperature_k, humidity))] == wrong


def test_the_worst_and_how_long_in_all() -> None:
    found = air()
    found.series.humidity[between(found, 11, 12)] = 0.45
    found.series.humidity[between(found, 15, 15.5)] = 0.34
    assert faults(found) == (AirFault(AirWrong.TOO_DRY, 0.34, 0.5, 1.5 * HOUR_S),)


def test_only_what_lies_within_the_wait_counts() -> None:
    found = air()
    found.series.temperature_k[between(found, 0, 9.9)] = 310.0
    found.series.temperature_k[between(found, 20.1, 60)] = 280.0
    assert faults(found) == ()


def test_held_air_is_no_fault() -> None:
    found = air(gaps=[(12, 14)])
    found.series.temperature_k[~found.measured] = 250.0
    assert faults(found) == ()
    assert faults(found, SWING) == ()


def test_a_wait_without_measured_air_has_no_faults() -> None:
    assert faults(air(310.0, gaps=[(5, 30)])) == ()


def test_the_shortest_wait_has_the_air_of_its_moment() -> None:
    inside = within_wait(air(), START_S, START_S)
    assert inside.sum() == 1
    inside = within_wait(air(), START_S, START_S + HOUR_S)
    assert inside.sum() == pytest.approx(12, abs=1)


@pytest.mark.parametrize(("from_h", "to_h"), [(10.0, 20.0), (10.0, 10.0 + 1 / 6), (9.99, 10.23)])
def test_it_lasts_no_longer_than_the_wait(from_h: float, to_h: float) -> None:
    (fault,) = faults(air(310.0), from_h=from_h, to_h=to_h)
    assert fault.lasted_s == pytest.approx((to_h - from_h) * HOUR_S, abs=1e-3)


def test_what_lasts_less_than_ten_minutes_in_all_is_not_worth_a_line() -> None:
    for minutes, told in ((10, True), (9.99, False)):
        assert bool(faults(air(310.0), from_h=10.0, to_h=10.0 + minutes / 60)) is told


class TestSwing:
    def test_is_told_however_short(self) -> None:
        found = air(294.0)
        found.series.temperature_k[between(found, 12, 12.05)] = 290.0
        assert [fault.wrong for fault in faults(found, SWING)] == [AirWrong.SWUNG]

    def test_up_to_the_largest_asked(self) -> None:
        found = air(294.0)
        found.series.temperature_k[between(found, 12, 60)] = 295.6
        assert faults(found, SWING) == ()

    def test_belongs_to_the_wait_in_which_it_was_reached(self) -> None:
        found = air(294.0)
        found.series.temperature_k[between(found, 12, 60)] = 296.0
        assert faults(found, SWING, 2, 11.9) == ()
        (fault,) = faults(found, SWING, 10, 20)
        assert (fault.wrong, fault.wanted) == (AirWrong.SWUNG, 1.7)
        assert fault.worst == pytest.approx(2.0)

    def test_down_counts_as_up_does(self) -> None:
        found = air(294.0)
        found.series.temperature_k[between(found, 12, 60)] = 292.0
        assert faults(found, SWING)[0].worst == pytest.approx(2.0)

    def test_of_an_earlier_coat_of_the_same_mould_it_goes_on(self) -> None:
        """A slow drift over two coats moves the wax under both."""
        found = air(294.0)
        found.series.temperature_k[between(found, 8, 60)] = 295.0
        found.series.temperature_k[between(found, 15, 60)] = 296.0
        assert faults(found, SWING, 2, 10) == ()
        assert faults(found, SWING, 10, 20)[0].worst == pytest.approx(2.0)

    def test_not_from_before_the_first_dip(self) -> None:
        found = air(290.0)
        found.series.temperature_k[between(found, 5, 60)] = 294.0
        assert faults(found, SWING, first_dip_h=6) == ()
        assert len(faults(found, SWING, first_dip_h=4)) == 1

    def test_slower_than_a_day_it_is_a_drift(self) -> None:
        found = air()
        found.series.temperature_k[:] = 290.0 + (found.series.time_s - START_S) / 86400.0
        assert faults(found, SWING, 30, 59) == ()
        (fault,) = faults(found, AirLimits(largest_swing_k=0.9), 30, 59)
        assert fault.worst == pytest.approx(1.0, abs=0.01)


class TestSwingNow:
    """As the message of the moment has it."""

    def swung(self, first_dip_h: float, now_h: float) -> float | None:
        found = air(gaps=[(40, 60)])
        found.series.temperature_k[between(found, 10, 60)] = 298.0
        return swing_k(found, START_S + first_dip_h * HOUR_S, START_S + now_h * HOUR_S)

    @pytest.mark.parametrize(("first_dip_h", "swing"), [(9.9, 4.0), (10.0, 0.0)])
    def test_not_from_before_the_first_dip(self, first_dip_h: float, swing: float) -> None:
        assert self.swung(first_dip_h, 12) == pytest.approx(swing)

    @pytest.mark.parametrize(("now_h", "swing"), [(33.95, 4.0), (34.0, 0.0)])
    def test_for_a_day(self, now_h: float, swing: float) -> None:
        assert self.swung(2, now_h) == pytest.approx(swing)

    def test_without_measured_air_none(self) -> None:
        assert self.swung(41, 50) is None
