"""Clock jumps are told from times in which nobody beat; and nothing is worked out in the past."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.clock import FakeClock
from service.heartbeat import BEHIND, JUMP_S, SETTLES_S, SHOWN_FOR, EarlierRun, Gap, Heartbeat, How

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(NOON)


def test_a_steady_clock_is_no_trouble(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(3600)
    assert heart.beat().jump is None
    assert heart.troubles(clock.now()) == []


@pytest.mark.parametrize(
    ("jump_s", "noticed"), [(JUMP_S, 0.0), (JUMP_S + 0.001, JUMP_S + 0.001), (-JUMP_S, 0.0)]
)
def test_a_minute_is_not_a_jump_yet(clock: FakeClock, jump_s: float, noticed: float) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(seconds=jump_s))
    jump = heart.beat().jump
    assert (jump.by_s if jump else 0.0) == pytest.approx(noticed, abs=1e-6)


def test_a_jump_forward_is_told_in_words(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(10)
    clock.jump(clock.now() + timedelta(hours=3))
    jump = heart.beat().jump
    assert jump is not None
    assert (jump.by_s, jump.to, jump.cured) == (pytest.approx(3 * 3600), clock.now(), False)
    (trouble,) = heart.troubles(clock.now())
    assert (trouble.code, trouble.seconds) == ("clock_put_forward", pytest.approx(3 * 3600))
    assert "forward by 3 h" in trouble.words
    assert trouble.since == clock.now()


def test_a_jump_back_is_told_in_words(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON - timedelta(minutes=5))
    heart.beat()
    (trouble,) = heart.troubles(clock.now())
    assert trouble.code == "clock_put_back"
    assert "back by 5 min" in trouble.words


def test_a_jump_is_forgotten_after_half_a_day(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(hours=1))
    heart.beat()
    jumped_at = clock.now()
    assert heart.troubles(jumped_at + SHOWN_FOR - timedelta(seconds=1))
    assert heart.troubles(jumped_at + SHOWN_FOR) == []


def test_a_jump_is_counted_once(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.jump(NOON + timedelta(hours=1))
    assert heart.beat().jump is not None
    clock.advance(5)
    assert heart.beat().jump is None


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
    assert [t.code for t in heart.troubles(clock.now())] == ["clock_set_right"]


def test_the_time_between_two_beats_is_told_to_the_second(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(8 * 3600)
    beat = heart.beat()
    assert beat.jump is None
    assert beat.gap == Gap(NOON, NOON + timedelta(hours=8), How.STOOD_STILL)
    assert heart.back_since == clock.now()


def test_a_jump_is_no_time_that_passed(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(5)
    clock.jump(clock.now() + timedelta(hours=3))
    assert heart.beat().gap.length_s == pytest.approx(5)


def test_asleep_and_set_right_at_once_are_told_apart(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    clock.advance(3600)
    clock.jump(clock.now() - timedelta(hours=2))
    beat = heart.beat()
    assert beat.jump is not None
    assert (beat.jump.by_s, beat.gap.length_s) == (pytest.approx(-7200), pytest.approx(3600))


@pytest.mark.parametrize(("in_order", "how"), [(True, How.STOPPED), (False, How.CUT)])
def test_the_first_beat_tells_since_when_nothing_ran(clock: FakeClock, in_order: bool, how: How) -> None:
    last = NOON - timedelta(hours=3)
    heart = Heartbeat(clock, last, EarlierRun(last, in_order))
    assert heart.beat().gap == Gap(last, NOON, how)
    clock.advance(5)
    assert heart.beat().gap == Gap(NOON, clock.now(), How.STOOD_STILL)


def test_started_in_the_past_the_time_not_run_is_known_once_the_clock_is_right(clock: FakeClock) -> None:
    last = NOON + timedelta(days=1)
    heart = Heartbeat(clock, last, EarlierRun(last, in_order=False))
    clock.advance(30)
    assert heart.beat().gap.how is How.STOOD_STILL
    right = last + timedelta(hours=3, minutes=20)
    clock.jump(right)
    beat = heart.beat()
    assert beat.gap == Gap(last, right, How.CUT)
    assert beat.jump is not None
    assert beat.jump.cured


def test_a_clock_that_started_where_it_had_stopped_did_not_jump_while_running(clock: FakeClock) -> None:
    """A machine that writes down the time at its end and starts from there, until the network tells it better."""
    heart = Heartbeat(clock, NOON, EarlierRun(NOON, in_order=True))
    clock.advance(20)
    assert heart.beat().gap == Gap(NOON, clock.now(), How.STOPPED)
    clock.jump(NOON + timedelta(hours=9))
    beat = heart.beat()
    assert beat.gap == Gap(NOON, NOON + timedelta(hours=9), How.STOPPED)
    assert beat.jump is not None
    assert beat.jump.cured
    (trouble,) = heart.troubles(clock.now())
    assert trouble.code == "clock_set_right"


@pytest.mark.parametrize(("ran_s", "cured"), [(SETTLES_S - 1, True), (SETTLES_S, False)])
def test_later_than_a_quarter_of_an_hour_after_the_start_somebody_put_it_forward(
    clock: FakeClock, ran_s: float, cured: bool
) -> None:
    heart = Heartbeat(clock, NOON, EarlierRun(NOON, in_order=True))
    heart.beat()
    clock.advance(ran_s)
    clock.jump(clock.now() + timedelta(hours=1))
    jump = heart.beat().jump
    assert jump is not None
    assert jump.cured is cured


def test_put_back_where_nobody_had_put_it_forward_things_done_lie_ahead(clock: FakeClock) -> None:
    heart = Heartbeat(clock, None)
    for hours, put_back in ((-5, True), (-1, True), (6, False), (3, False), (-3, False), (-2, True)):
        clock.jump(clock.now() + timedelta(hours=hours))
        heart.beat()
        assert heart.put_back is put_back, hours
