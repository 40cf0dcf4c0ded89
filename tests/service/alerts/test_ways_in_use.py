"""Which ways are used, and when one is switched off: to the instant."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.alerts.fakes import MemoryRecords
from service.alerts.notifiers.fake import NO, FakeNotifier
from service.alerts.notifiers.notifier import TAKEN, Answer
from service.alerts.rules import SendingRules
from service.alerts.ways import FixedWays, Way
from service.alerts.ways_in_use import WaysInUse, main_and_extra
from service.clock import FakeClock
from service.records.outbox import Outcome
from tests.service.alerts.scene import NOW, minutes

HAIR = timedelta(microseconds=1)
REFUSED = Answer(Outcome.REFUSED, "answered 403 (Forbidden)")
GONE = Answer(Outcome.REFUSED, "answered 410 (Gone)", gone=True)
NTFY = Way("bench 1", "ntfy", "mark 1", FakeNotifier())
MAIL = Way("bench 1", "mail", "mark 2", FakeNotifier())
WALL = Way("wall", "ntfy", "mark 1", FakeNotifier())  # the same address, told as somebody else


@pytest.fixture
def records() -> MemoryRecords:
    return MemoryRecords(FakeClock(NOW))


@pytest.fixture
def use(records: MemoryRecords) -> WaysInUse:
    return WaysInUse(records, FixedWays([NTFY, MAIL, WALL]), SendingRules())


def off(records: MemoryRecords) -> list[tuple[str, str]]:
    return [(row.recipient, row.way) for row in records.ways_off()]


def test_refusing_once_switches_nothing_off(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, REFUSED, NOW)
    assert off(records) == []


def test_refusing_twice_a_minute_apart_does(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, REFUSED, NOW)
    use.answered(NTFY, REFUSED, NOW + minutes(1) - HAIR)
    assert off(records) == []
    use.answered(NTFY, REFUSED, NOW + minutes(1))
    assert off(records) == [("bench 1", "ntfy")]
    (row,) = records.ways_off()
    assert (row.mark, row.since, row.words) == ("mark 1", NOW + minutes(1), "answered 403 (Forbidden)")
    assert use.by_recipient() == {"bench 1": [MAIL], "wall": [WALL]}
    assert use.off() == [row]


def test_gone_is_said_once_and_for_all(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, GONE, NOW)
    assert off(records) == [("bench 1", "ntfy")]


@pytest.mark.parametrize(
    "between", [TAKEN, NO, Answer(Outcome.LATER, "busy"), Answer(Outcome.UNCLEAR, "answered 500")]
)
def test_only_refusals_in_a_row_count(use: WaysInUse, records: MemoryRecords, between: Answer) -> None:
    use.answered(NTFY, REFUSED, NOW)
    use.answered(NTFY, between, NOW + minutes(1))
    use.answered(NTFY, REFUSED, NOW + minutes(2))
    assert off(records) == []


def test_each_way_counts_for_itself(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, REFUSED, NOW)
    use.answered(MAIL, REFUSED, NOW + minutes(1))
    use.answered(WALL, REFUSED, NOW + minutes(1))
    assert off(records) == []


def test_the_clock_set_back_between_two_refusals(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, REFUSED, NOW)
    use.answered(NTFY, REFUSED, NOW - timedelta(days=400))
    assert off(records) == []
    use.answered(NTFY, REFUSED, NOW - timedelta(days=400) + minutes(1))
    assert off(records) == [("bench 1", "ntfy")]


def test_a_test_that_is_taken_switches_it_on_again(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, GONE, NOW)
    use.took_a_test(NTFY)
    assert off(records) == []
    assert use.by_recipient()["bench 1"] == [NTFY, MAIL]


def test_another_address_is_another_way(use: WaysInUse, records: MemoryRecords) -> None:
    use.answered(NTFY, GONE, NOW)
    use.forget_old()
    assert off(records) == [("bench 1", "ntfy")]
    changed = Way("bench 1", "ntfy", "mark 9", FakeNotifier())
    after = WaysInUse(records, FixedWays([changed]), SendingRules())
    assert after.off() == []
    after.forget_old()
    assert off(records) == []
    assert after.by_recipient() == {"bench 1": [changed]}


def test_somebody_without_a_way_left_is_still_named(use: WaysInUse) -> None:
    use.answered(WALL, GONE, NOW)
    assert use.by_recipient()["wall"] == []


def later(seconds: float | None) -> Answer:
    return Answer(Outcome.LATER, "answered 429 (Too Many Requests)", seconds)


def test_a_way_rests_as_long_as_it_asked_to_the_instant(use: WaysInUse) -> None:
    use.answered(NTFY, later(90.0), NOW)
    until = NOW + timedelta(seconds=90)
    assert use.rests_until(NTFY, until - HAIR) == until
    assert use.rests_until(NTFY, until) is None
    assert use.rests_until(MAIL, NOW) is None


def test_no_way_rests_longer_than_the_longest_retry(use: WaysInUse) -> None:
    use.answered(NTFY, later(1e9), NOW)
    assert use.rests_until(NTFY, NOW) == NOW + minutes(30)


@pytest.mark.parametrize("seconds", [None, 0.0])
def test_without_a_time_to_wait_it_does_not_rest(use: WaysInUse, seconds: float | None) -> None:
    use.answered(NTFY, later(seconds), NOW)
    assert use.rests_until(NTFY, NOW) is None


def test_a_rest_ends_where_the_clock_was_set_back(use: WaysInUse) -> None:
    use.answered(NTFY, later(1e9), NOW)
    assert use.rests_until(NTFY, NOW - HAIR) is None
    assert use.rests_until(NTFY, NOW - timedelta(days=1)) is None


def test_extra_ways_are_beside_the_others() -> None:
    browser = Way("bench 1", "browser", "mark 3", FakeNotifier(), extra=True)
    assert main_and_extra([browser, NTFY, MAIL]) == ([NTFY, MAIL], [browser])
