"""What became known of the past air only later."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.records.database import Database
from service.records.store import Records
from service.room.past_changes import MOST_KEPT, PastChanges, moved_since
from service.room.placements import EVER
from tests.service.room.cases import T0, h


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        yield Records(database, FakeClock(T0))


@pytest.fixture
def past(records: Records) -> PastChanges:
    return PastChanges(records)


def test_at_first_nothing_changed(past: PastChanges) -> None:
    assert past.number == 0
    assert not past.other_since(0, {1}, T0)


def test_what_knew_of_it_holds_and_what_did_not_does_not(past: PastChanges) -> None:
    past.note(1, T0)
    assert past.number == 1
    assert past.other_since(0, {1}, T0 + h(9))
    assert not past.other_since(1, {1}, T0 + h(9))


def test_only_of_its_rooms_and_of_its_time(past: PastChanges) -> None:
    past.note(1, T0)
    assert not past.other_since(0, {2}, T0 + h(9))
    assert past.other_since(0, {2, 1}, T0 + h(9))
    assert past.other_since(0, {1}, T0)
    assert not past.other_since(0, {1}, T0 - timedelta(microseconds=1))


def test_of_all_rooms(past: PastChanges) -> None:
    past.note(None, EVER)
    assert past.other_since(0, {7}, T0)


def test_a_backlog_is_one_change_from_its_earliest_on(past: PastChanges) -> None:
    for hour in (5, 3, 9):
        past.note(1, T0 + h(hour))
    assert past.number == 3
    assert past.other_since(2, {1}, T0 + h(3))
    assert not past.other_since(0, {1}, T0 + h(2.9))


def test_a_late_reading_today_leaves_last_months_moulds_alone(past: PastChanges) -> None:
    past.note(1, T0)
    past.note(1, T0 + timedelta(days=30))
    assert not past.other_since(1, {1}, T0 + timedelta(days=20))
    assert past.other_since(1, {1}, T0 + timedelta(days=30))


def test_it_is_remembered(records: Records, past: PastChanges) -> None:
    past.note(1, T0)
    past.note(None, EVER)
    again = PastChanges(records)
    assert again.number == 2
    assert again.other_since(1, {3}, T0)
    again.note(2, T0)
    assert PastChanges(records).number == 3


def test_too_many_become_one_of_all_rooms_that_forgets_nothing(past: PastChanges) -> None:
    for day in range(MOST_KEPT + 5):
        past.note(1, T0 + timedelta(days=3 * day))
    assert past.number == MOST_KEPT + 5
    assert past.other_since(0, {9}, T0)  # a little too much is worked out again, never too little
    assert not past.other_since(past.number, {1}, T0 + timedelta(days=9999))


class TestMovedSince:
    def test_hung_for_the_first_time(self) -> None:
        assert moved_since([(EVER, None)], [(EVER, 1)]) == (EVER, {1})
        assert moved_since([], [(EVER, 1)]) == (EVER, {1})

    def test_carried_over(self) -> None:
        before = [(EVER, 1)]
        assert moved_since(before, [*before, (T0, 2)]) == (T0, {1, 2})
        assert moved_since(before, [*before, (T0, None)]) == (T0, {1})

    def test_a_slip_moves_its_past_as_well(self) -> None:
        assert moved_since([(EVER, 1), (T0, 2)], [(EVER, 1), (T0, 3)]) == (T0, {2, 3})

    def test_where_it_was(self) -> None:
        assert moved_since([(EVER, 1), (T0, 2)], [(EVER, 1), (T0, 2)]) is None
