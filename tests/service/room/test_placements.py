"""Which room each sensor hung in, and since when."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.errors import NotFound
from service.records.database import Database
from service.records.store import Records
from service.room.placements import A_SLIP, EVER, Placements, by_sensor, place, placements
from tests.service.room.cases import T0, h, minutes

INSTANT = timedelta(microseconds=1)


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        made = Records(database, FakeClock(T0))
        for name in ("shell room", "loft"):
            made.add_room(name)
        for sensor in ("wall", "beam"):
            made.hear_sensor(sensor, T0)
        yield made


def now(records: Records) -> Placements:
    return placements(records, records.sensors())


class TestRoomOf:
    def test_a_stranger_hangs_nowhere(self, records: Records) -> None:
        assert now(records).room_of("nobody", T0) is None

    def test_heard_and_not_hung(self, records: Records) -> None:
        assert now(records).room_of("wall", T0) is None

    def test_hung_once_it_counts_for_ever(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        assert [now(records).room_of("wall", T0 + h(hours)) for hours in (-1000, 0, 1000)] == [1, 1, 1]
        assert now(records).room_of("beam", T0) is None

    def test_carried_elsewhere_from_that_very_instant(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", 2, T0 + h(5))
        held = now(records)
        assert held.room_of("wall", T0 + h(5) - INSTANT) == 1
        assert held.room_of("wall", T0 + h(5)) == 2

    def test_there_and_back(self, records: Records) -> None:
        for hours, room in ((0, 1), (5, 2), (9, 1)):
            place(records, "wall", room, T0 + h(hours))
        assert [now(records).room_of("wall", T0 + h(hours)) for hours in (1, 6, 10)] == [1, 2, 1]

    def test_taken_down(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", None, T0 + h(5))
        assert [now(records).room_of("wall", T0 + h(hours)) for hours in (1, 6)] == [1, None]


class TestSlip:
    def test_put_right_within_ten_minutes_it_never_hung_there(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", 2, T0 + A_SLIP - INSTANT)
        assert now(records).room_of("wall", T0 - h(5)) == 2

    def test_at_ten_minutes_it_was_carried(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", 2, T0 + A_SLIP)
        assert now(records).room_of("wall", T0) == 1

    def test_a_slip_after_a_long_stay_leaves_the_stay(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", None, T0 + h(5))
        place(records, "wall", 2, T0 + h(5) + minutes(1))
        held = now(records)
        assert [held.room_of("wall", T0 + at) for at in (h(1), h(5), h(6))] == [1, 1, 2]

    def test_the_same_room_again_changes_nothing(self, records: Records) -> None:
        place(records, "wall", 1, T0)
        place(records, "wall", 1, T0 + h(5))
        assert now(records).places["wall"] == [(EVER, 1)]


class TestStays:
    def test_each_with_its_ends(self, records: Records) -> None:
        for hours, room in ((0, 1), (5, 2), (9, 1)):
            place(records, "wall", room, T0 + h(hours))
        place(records, "beam", 1, T0)
        stays = now(records).stays(1)
        assert [(sensor, came) for sensor, came, _ in stays] == [
            ("beam", EVER),
            ("wall", EVER),
            ("wall", T0 + h(9)),
        ]
        assert stays[1][2] == T0 + h(5)
        assert now(records).stays(2) == [("wall", T0 + h(5), T0 + h(9))]

    def test_by_sensor(self, records: Records) -> None:
        for hours, room in ((0, 1), (5, 2), (9, 1)):
            place(records, "wall", room, T0 + h(hours))
        place(records, "beam", 1, T0)
        stays = by_sensor(now(records).stays(1))
        assert [came for came, _ in stays["wall"]] == [EVER, T0 + h(9)]
        assert (len(stays["beam"]), set(stays)) == (1, {"wall", "beam"})
        assert by_sensor([]) == {}

    def test_none(self, records: Records) -> None:
        assert now(records).stays(1) == []
        assert Placements().stays(1) == []


class TestRecords:
    def test_hung_by_other_means_it_hangs_there_for_ever(self, records: Records) -> None:
        """As the demo does, and a shop whose records are older than this memory."""
        records.place_sensor("wall", 2)
        assert now(records).room_of("wall", T0 - h(99)) == 2
        place(records, "wall", 1, T0)
        records.place_sensor("wall", 2)
        assert now(records).room_of("wall", T0 - h(99)) == 2

    def test_then_carried_its_past_stays_where_it_was(self, records: Records) -> None:
        records.place_sensor("wall", 2)
        place(records, "wall", 1, T0)
        assert [now(records).room_of("wall", T0 + h(hours)) for hours in (-1, 1)] == [2, 1]

    def test_a_sensor_never_heard_is_refused_and_nothing_is_remembered(self, records: Records) -> None:
        with pytest.raises(NotFound):
            place(records, "nobody", 1, T0)
        assert "nobody" not in now(records).places

    def test_the_records_say_where_it_hangs_now(self, records: Records) -> None:
        place(records, "wall", 2, T0)
        assert [(s.name, s.room_id) for s in records.sensors()] == [("beam", None), ("wall", 2)]
