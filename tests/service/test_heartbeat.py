"""Clock jumps: noticed beyond a minute, told for two hours, and nothing worked out in the past."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.clock import FakeClock
from service.heartbeat import BEHIND, JUMP_S, SETTLES_S, SHOWN_FOR, Heartbeat

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(NOON)


def test_a_steady_clock_is_no_trouble(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(3600)
    assert heart.beat() == 0.0
    assert heart.troubles(clock.now()) == []


@pytest.mark.parametrize(
    ("jump_s", "noticed"), [(JUMP_S, 0.0), (JUMP_S + 0.001, JUMP_S + 0.001), (-JUMP_S, 0.0)]
)
def test_a_minute_is_not_a_jump_yet(clock: FakeClock, jump_s: float, noticed: float) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(seconds=jump_s))
    assert heart.beat() == pytest.approx(noticed, abs=1e-6)


def test_a_jump_forward_is_told_in_words(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(10)
    clock.jump(clock.now() + timedelta(hours=3))
    assert heart.beat() == pytest.approx(3 * 3600)
    (trouble,) = heart.troubles(clock.now())
    assert trouble.code == "clock_jumped"
    assert "forward by 3 h" in trouble.words
    assert trouble.since == clock.now()


def test_a_jump_back_is_told_in_words(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON - timedelta(minutes=5))
    heart.beat()
    (trouble,) = heart.troubles(clock.now())
    assert "back by 5 min" in trouble.words


def test_a_jump_is_forgotten_after_two_hours(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(hours=1))
    heart.beat()
    jumped_at = clock.now()
    assert heart.troubles(jumped_at + SHOWN_FOR - timedelta(seconds=1))
    assert heart.troubles(jumped_at + SHOWN_FOR) == []


def test_a_jump_is_counted_once(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(hours=1))
    assert heart.beat() != 0.0
    clock.advance(5)
    assert heart.beat() == 0.0


def test_a_clock_behind_the_records_stops_the_working_out(clock: FakeClock) -> None:
    heart = Heartbeat(clock, NOON + timedelta(days=1))
    assert heart.in_the_past
    (trouble,) = heart.troubles(clock.now())
    assert (trouble.code, trouble.words) == ("clock_behind", BEHIND)


def test_a_clock_behind_by_exactly_a_minute_will_do(clock: FakeClock) -> None:
    assert not Heartbeat(clock, NOON + timedelta(seconds=JUMP_S)).in_the_past
    assert Heartbeat(clock, NOON + timedelta(seconds=JUMP_S + 0.001)).in_the_past


def test_a_person_may_say_that_the_clock_is_right(clock: FakeClock) -> None:
    heart = Heartbeat(clock, NOON + timedelta(days=365))
    assert not heart.sure
    heart.trust()
    assert not heart.in_the_past
    assert heart.sure
    assert heart.troubles(clock.now()) == []


def test_a_clock_put_forward_is_sure_only_after_a_while(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    assert heart.sure
    clock.jump(NOON + timedelta(days=2))
    heart.beat()
    clock.advance(SETTLES_S - 0.001)
    heart.beat()
    assert not heart.sure
    clock.advance(0.001)
    assert heart.sure


def test_a_clock_put_back_at_once_is_sure_at_once(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    for there in (NOON + timedelta(days=2), NOON):
        clock.jump(there)
        heart.beat()
    assert heart.sure


def test_once_the_clock_is_set_right_work_goes_on(clock: FakeClock) -> None:
    heart = Heartbeat(clock, NOON + timedelta(days=1))
    clock.jump(NOON + timedelta(days=1, minutes=5))
    assert not heart.in_the_past
    heart.beat()
    assert [t.code for t in heart.troubles(clock.now())] == ["clock_jumped"]
