"""Which readings come along."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.papers.asked import Asked
from service.papers.measured import measured
from service.reading import Quantity, Reading
from tests.service.papers.paper_shop import SALTMARSH
from tests.service.room.cases import T0
from tests.service.room.small_shop import SmallShop


def sent(sensor: str, *instants: datetime) -> list[Reading]:
    return [Reading(sensor, Quantity.AIR_SPEED, 0.1, at, at) for at in instants]


def instants(small: SmallShop, sensor: str, asked: Asked) -> list[datetime]:
    found = measured(small.records, asked, SALTMARSH, small.clock.now())
    return [reading.at for reading in found if reading.sensor == sensor]


def test_the_first_and_the_last_are_among_them_though_they_came_in_one_batch(small: SmallShop) -> None:
    ends = [T0 - timedelta(days=40), T0 - timedelta(days=39), T0]
    small.records.add_readings(sent("yard", *ends))
    assert instants(small, "yard", Asked()) == ends


def test_none_is_doubled_or_lost_at_midnight(small: SmallShop) -> None:
    midnight = datetime(2026, 2, 1, tzinfo=UTC)
    around = [midnight - timedelta(microseconds=1), midnight, midnight + timedelta(microseconds=1)]
    small.records.add_readings(sent("yard", *around))
    assert instants(small, "yard", Asked()) == around
    assert instants(small, "yard", Asked(since=midnight.date())) == around[1:]
    assert instants(small, "yard", Asked(until=(midnight - timedelta(days=1)).date())) == around[:1]


def test_of_a_mould_from_the_day_before_it_came_until_it_left(small: SmallShop) -> None:
    small.hang("Heron")
    small.let_pass(2)
    small.shop.end(1, "scrapped", "", "bench 1", "scrapped-1", small.clock.now())
    left = small.clock.now()
    small.let_pass(5)
    found = instants(small, "wall", Asked(mould_id=1))
    assert min(found) >= T0 - timedelta(days=1)
    assert T0 <= max(found) < left
    assert found


def test_of_a_moved_mould_each_rooms_own(small: SmallShop) -> None:
    small.records.add_room("store")
    small.hang_sensor("store", 2, 48)
    small.hang("Heron")
    small.dip(1)
    small.let_pass(4)
    moved = small.clock.now()
    body = next(f.body for f in small.records.facts(1))
    small.shop.change_mould(1, body.model_copy(update={"room_id": 2}), "bench 1", "moved-it-1", moved)  # type: ignore[arg-type]
    small.records.add_readings(sent("store", moved, moved + timedelta(minutes=5)))
    small.clock.advance(600)
    wall, store = (instants(small, name, Asked(mould_id=1)) for name in ("wall", "store"))
    assert max(wall) < moved
    assert max(store) == moved + timedelta(minutes=5)


def test_a_silent_sensor_has_none(small: SmallShop) -> None:
    small.records.hear_sensor("mute", T0)
    assert instants(small, "mute", Asked()) == []
    assert small.records.reading_span("mute") is None
