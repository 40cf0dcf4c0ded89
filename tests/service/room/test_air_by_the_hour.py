"""Air of which only hourly means are left: counted, told, and mixed with what was measured."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from service.reading import Quantity
from service.records.air_facts import FiveMinutes, Hours
from service.room.air_book import AirBook, RoomAir
from service.room.heard import BIN_S, number_of
from tests.service.room.cases import PRESSURE_PA, T0, h, minutes, reading, readings, room_air
from tests.service.room.small_shop import SmallShop

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
ALL_HOUR = 0xFFF


def hours(first: datetime, means: list[float], heard: int = ALL_HOUR, count: int = 120) -> Hours:
    n = len(means)
    start = int(first.timestamp() // 3600)
    mean = np.array(means)
    return Hours(np.arange(start, start + n), mean, mean - 1, mean + 1, np.full(n, count), np.full(n, heard))


def book_of_hours(first: datetime = T0, number: int = 6, heard: int = ALL_HOUR) -> AirBook:
    book = AirBook()
    book.add_hours("wall", T, hours(first, [294.0 + i for i in range(number)], heard))
    book.add_hours("wall", RH, hours(first, [0.5] * number, heard))
    return book


def air_of(book: AirBook, since: datetime, until: datetime) -> RoomAir:
    air = book.air(since, until, 0.2, PRESSURE_PA)
    assert air is not None
    return air


def test_the_mean_stands_all_hour_and_is_marked() -> None:
    air = air_of(book_of_hours(), T0, T0 + h(6) - minutes(5))
    assert air.measured.all()
    assert air.by_the_hour.all()
    assert air.series.temperature_k.tolist() == [294.0 + i // 12 for i in range(72)]
    assert air.gap_s(T0.timestamp(), (T0 + h(6)).timestamp()) == 0


def test_air_as_it_was_measured_is_not_marked() -> None:
    book = AirBook()
    book.add(readings(T0, 3))
    air = air_of(book, T0, T0 + h(2))
    assert not air.by_the_hour.any()
    assert air.by_the_hour_s(T0.timestamp(), (T0 + h(2)).timestamp()) == 0


def test_what_was_not_heard_within_an_hour_is_a_gap_still() -> None:
    """Heard in its first five minutes alone, and every hour: held for half an hour, then nothing is known."""
    air = air_of(book_of_hours(heard=0b1), T0, T0 + h(6) - minutes(5))
    assert air.gap_s(T0.timestamp(), (T0 + h(6)).timestamp()) == 6 * 1800
    assert air.by_the_hour_s(T0.timestamp(), (T0 + h(6)).timestamp()) == 6 * 1800
    assert not (air.by_the_hour & ~air.measured).any()


def test_from_hours_to_readings() -> None:
    book = book_of_hours(number=2)
    book.add(readings(T0 + h(2), 2, 300.0))
    air = air_of(book, T0, T0 + h(4) - minutes(5))
    assert air.by_the_hour.tolist() == [True] * 24 + [False] * 24
    assert air.by_the_hour_s((T0 + h(1)).timestamp(), (T0 + h(3)).timestamp()) == 3600
    assert air.series.temperature_k[23:25].tolist() == [295.0, 300.0]


def test_a_reading_that_came_late_counts_in_its_five_minutes() -> None:
    book = book_of_hours(number=1)
    book.add([reading(T0 + minutes(7), 305.0)])
    air = air_of(book, T0, T0 + minutes(55))
    assert air.series.temperature_k[0] == 294.0
    assert air.series.temperature_k[1] == pytest.approx((10 * 294.0 + 305.0) / 11)


def test_a_pressure_known_by_the_hour_marks_nothing() -> None:
    book = AirBook()
    book.add(readings(T0, 2))
    book.add_hours("wall", Quantity.PRESSURE, hours(T0, [1.0e5, 1.0e5]))
    assert not air_of(book, T0, T0 + h(1)).by_the_hour.any()


def test_other_quantities_are_let_lie() -> None:
    book = AirBook()
    none = FiveMinutes(np.array([], int), np.array([]), np.array([]))
    book.add_gathered("wall", T, none)
    assert book.air(T0, T0 + h(1), 0.2, PRESSURE_PA) is None


def test_hours_that_are_forgotten_mark_nothing_any_more() -> None:
    book = book_of_hours(number=6)
    book.forget_before(T0 + h(3))
    assert len(book._only_hours) == 3


def test_gathered_or_one_by_one_is_the_same() -> None:
    sent = readings(T0, 3, swing_k=4.0, every_s=47.0)
    one, other = AirBook(), AirBook()
    one.add(sent)
    for quantity in (T, RH):
        own = [r for r in sent if r.quantity is quantity]
        numbers = np.array([number_of(r.at) for r in own])
        number, at = np.unique(numbers, return_inverse=True)
        other.add_gathered(
            "wall",
            quantity,
            FiveMinutes(number, np.bincount(at) * 1.0, np.bincount(at, [r.value for r in own])),
        )
    here, there = (air_of(book, T0, T0 + h(3)) for book in (one, other))
    assert here.series.temperature_k == pytest.approx(there.series.temperature_k)
    assert (here.measured == there.measured).all()


class TestThroughRooms:
    def test_the_mark_goes_with_the_air_a_mould_hung_in(self) -> None:
        by_the_hour = air_of(book_of_hours(number=48), T0, T0 + h(47))
        as_measured = room_air(T0, 48.0)
        end = min(by_the_hour.series.time_s.size, as_measured.series.time_s.size)
        assert end > 500
        hung = by_the_hour.then(room_air(T0, 47 + 1 / 12), (T0 + h(10)).timestamp())
        assert hung.by_the_hour_s(T0.timestamp(), (T0 + h(47)).timestamp()) == 36_000
        held = by_the_hour.held_from((T0 + h(5)).timestamp())
        assert held.by_the_hour_s(T0.timestamp(), (T0 + h(47)).timestamp()) == 18_000

    @pytest.fixture
    def shop(self, tmp_path: Path) -> Iterator[SmallShop]:
        with SmallShop(tmp_path) as made:
            yield made

    def test_thinned_out_a_mould_was_in_the_same_air(self, shop: SmallShop) -> None:
        shop.furnish(hours_of_air=24 * 5)
        shop.hang(at=T0 - h(48))
        shop.dip(at=T0 - h(47), reason="trial")
        p = shop.keeper._open_moulds()[0]
        before = shop.keeper.past_air(p, None, T0)
        while shop.records.thin_out_some(T0 - h(24)):
            pass
        shop.begin()
        p = shop.keeper._open_moulds()[0]
        after = shop.keeper.past_air(p, None, T0)
        assert before is not None
        assert after is not None
        assert after.series.temperature_k == pytest.approx(before.series.temperature_k)
        assert (after.measured == before.measured).all()
        old = after.series.time_s < (T0 - h(24)).timestamp() // BIN_S * BIN_S
        assert (after.by_the_hour == (old & after.measured)).all()
