"""The watchdog goes by a clock nobody can set: it beats on through every jump, and makes the ticks due again."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from service.clock import SystemClock
from service.heartbeat import Heartbeat
from service.jobs import Tick, make_due, make_scheduler
from service.watchdog import Watchdog

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
OFTEN_S = 0.05


class Counted:
    """Counts; fails where told to."""

    def __init__(self, fails: bool = False) -> None:
        self._ran = threading.Condition()
        self.times, self.fails = 0, fails

    def __call__(self) -> None:
        with self._ran:
            self.times += 1
            self._ran.notify_all()
        if self.fails:
            raise RuntimeError("the disk is away")

    def reaches(self, times: int) -> bool:
        with self._ran:
            return self._ran.wait_for(lambda: self.times >= times, 10)


@contextmanager
def watched(tick: Tick) -> Iterator[Watchdog]:
    watchdog = Watchdog(tick)
    watchdog.start()
    try:
        yield watchdog
    finally:
        watchdog.stop()


def test_it_runs_at_once_and_again() -> None:
    count = Counted()
    with watched(Tick("beat", 3600, count)):
        assert count.reaches(1)
    more = Counted()
    with watched(Tick("beat", OFTEN_S, more)):
        assert more.reaches(5)


def test_a_failing_one_is_logged_and_goes_on(caplog: pytest.LogCaptureFixture) -> None:
    count = Counted(fails=True)
    with caplog.at_level(logging.ERROR), watched(Tick("heartbeat", OFTEN_S, count)):
        assert count.reaches(3)
    assert "heartbeat failed" in caplog.text


def test_stopped_it_runs_no_more_and_its_thread_has_ended() -> None:
    count = Counted()
    with watched(Tick("the only beat", OFTEN_S, count)):
        assert count.reaches(2)
    ran = count.times
    assert not any(thread.name == "the only beat" for thread in threading.enumerate())
    assert count.times == ran


@pytest.mark.parametrize("hours", [-5, 5])
def test_a_jump_of_the_wall_clock_holds_it_up_by_nothing(hours: float) -> None:
    count = Counted()
    with time_machine.travel(NOON, tick=True), watched(Tick("beat", OFTEN_S, count)):
        assert count.reaches(2)
        with time_machine.travel(NOON + timedelta(hours=hours), tick=True):
            assert count.reaches(count.times + 3)


@pytest.mark.parametrize("hours", [-5, 3])
def test_watchdog_heart_and_ticks_together_survive_a_jump(hours: float) -> None:
    """As the service puts them together: nobody but the watchdog notices, and a tick runs again within moments."""
    count = Counted()
    with time_machine.travel(NOON, tick=True):
        scheduler = make_scheduler([Tick("count", 0.25, count)])
        heart = Heartbeat(SystemClock(), None)

        def beat() -> None:
            if heart.beat().jump is not None:
                make_due(scheduler)

        scheduler.start()
        assert count.reaches(2)
        there = NOON + timedelta(hours=hours)
        with watched(Tick("heartbeat", OFTEN_S, beat)), time_machine.travel(there, tick=True):
            assert count.reaches(count.times + 4), "the ticks stalled"
        scheduler.shutdown()
