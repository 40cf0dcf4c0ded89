"""The ticks: a failing one does not end the others, and a night slept through is made up for."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from apscheduler.schedulers.background import BackgroundScheduler

from service.errors import Unavailable
from service.jobs import LEAST_INTERVAL_S, Tick, back_up_due, guarded, make_due, make_scheduler
from service.voice import Language, Voice, voice

LONDON, NEW_YORK = "Europe/London", "America/New_York"


def test_every_tick_runs_at_once_and_again() -> None:
    again, times = threading.Event(), []

    def tick() -> None:
        times.append(1)
        if len(times) >= 3:
            again.set()

    scheduler = make_scheduler([Tick("count", LEAST_INTERVAL_S, tick)])
    scheduler.start()
    try:
        assert again.wait(10), "the tick did not come again"
    finally:
        scheduler.shutdown()


def test_one_that_waits_does_not_run_at_the_start() -> None:
    ran: list[str] = []
    done = threading.Event()
    at_once = Tick("look", 60, lambda: ran.append("look"))
    waits = Tick("tidy", 60, lambda: (ran.append("tidy"), done.set()), wait_s=0.5)
    scheduler = make_scheduler([waits, at_once])
    scheduler.start()
    try:
        assert done.wait(10), "it never ran"
    finally:
        scheduler.shutdown()
    assert ran == ["look", "tidy"]


def test_a_failing_tick_is_logged_and_tried_again(caplog: pytest.LogCaptureFixture) -> None:
    again, tries = threading.Event(), []

    def tick() -> None:
        tries.append(1)
        if len(tries) >= 2:
            again.set()
        raise RuntimeError("the disk is away")

    scheduler = make_scheduler([Tick("write readings", LEAST_INTERVAL_S, tick)])
    with caplog.at_level(logging.ERROR):
        scheduler.start()
        try:
            assert again.wait(10), "the failing tick was not tried again"
        finally:
            scheduler.shutdown()
    assert "write readings failed" in caplog.text


def test_a_failing_tick_does_not_stop_its_neighbour() -> None:
    went_on, count = threading.Event(), []

    def good() -> None:
        count.append(1)
        if len(count) >= 2:
            went_on.set()

    def bad() -> None:
        raise ValueError("no")

    scheduler = make_scheduler([Tick("bad", LEAST_INTERVAL_S, bad), Tick("good", LEAST_INTERVAL_S, good)])
    scheduler.start()
    try:
        assert went_on.wait(10), "the neighbour stopped"
    finally:
        scheduler.shutdown()


@pytest.mark.parametrize(
    ("error", "told", "traced"),
    [
        (Unavailable("disk_full", "The disk is full.", "Make room."), "The disk is full", False),
        (ValueError("no"), "", True),
    ],
)
def test_what_says_itself_what_is_wrong_is_logged_in_a_line(
    error: Exception, told: str, traced: bool, caplog: pytest.LogCaptureFixture
) -> None:
    ran = threading.Event()

    def bad() -> None:
        ran.set()
        raise error

    scheduler = make_scheduler([Tick("write readings", 60.0, bad)])
    with caplog.at_level(logging.WARNING, "service.jobs"):
        scheduler.start()
        assert ran.wait(10)
        scheduler.shutdown()  # waits for the tick to end
    (record,) = [r for r in caplog.records if r.name == "service.jobs"]
    assert "write readings failed; it is tried again" in record.getMessage()
    assert told in record.getMessage()
    assert bool(record.exc_info) is traced


def test_a_late_tick_still_runs_whatever_its_delay() -> None:
    scheduler = make_scheduler([Tick("look", 60.0, lambda: None)])
    scheduler.start(paused=True)
    try:
        (job,) = scheduler.get_jobs()
        assert job.misfire_grace_time is None
        assert job.coalesce is True
        assert job.max_instances == 1
    finally:
        scheduler.shutdown()


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_the_first_back_up_is_due_at_once() -> None:
    assert back_up_due(at("2026-06-01 10:00"), None, 4, LONDON)


@pytest.mark.parametrize(("now", "due"), [("2026-06-02 02:59:59", False), ("2026-06-02 03:00:00", True)])
def test_due_from_the_exact_instant(now: str, due: bool) -> None:
    """04:00 in London is 03:00 UTC in summer."""
    assert back_up_due(at(now), at("2026-06-01 12:00"), 4, LONDON) is due


def test_not_due_twice_in_a_night() -> None:
    assert not back_up_due(at("2026-06-02 03:10"), at("2026-06-02 03:00"), 4, LONDON)


def test_a_night_slept_through_is_made_up_for() -> None:
    assert back_up_due(at("2026-06-02 09:00"), at("2026-06-01 03:00"), 4, LONDON)


@pytest.mark.parametrize(
    ("last", "due"),
    [("2036-01-01 00:00", True), ("2026-06-02 04:10:01", True), ("2026-06-02 04:10:00", False)],
)
def test_one_made_while_the_clock_was_ahead_puts_off_none(last: str, due: bool) -> None:
    """Else there would be neither copy nor check of the ledger until 2036."""
    assert back_up_due(at("2026-06-02 03:10"), at(last), 4, LONDON) is due


@pytest.mark.parametrize("zone", [LONDON, NEW_YORK])
@pytest.mark.parametrize("night", ["2026-03-08", "2026-03-29", "2026-10-25", "2026-11-01"])
def test_once_in_each_night_that_clocks_change(zone: str, night: str) -> None:
    """The clock-change nights of both zones: one back-up, no more and no less."""
    now, last, made = at(f"{night} 00:00") - timedelta(hours=12), None, 0
    last = now
    for _ in range(24 * 12):
        now += timedelta(minutes=10)
        if back_up_due(now, last, 4, zone):
            last, made = now, made + 1
    assert made == 2


class Counted:
    """A tick that says when it ran, and how often."""

    def __init__(self) -> None:
        self._ran = threading.Condition()
        self.times = 0

    def __call__(self) -> None:
        with self._ran:
            self.times += 1
            self._ran.notify_all()

    def ran_again(self, before: int, within_s: float = 10.0) -> bool:
        with self._ran:
            return self._ran.wait_for(lambda: self.times > before, within_s)


@pytest.fixture
def ticking() -> Iterator[tuple[Counted, BackgroundScheduler]]:
    """A tick each quarter of a second, that runs."""
    count = Counted()
    with time_machine.travel(at("2026-03-04 12:00"), tick=True):
        scheduler = make_scheduler([Tick("count", 0.25, count)])
        scheduler.start()
        assert count.ran_again(1)
        yield count, scheduler
        scheduler.shutdown()


def test_left_alone_a_clock_set_back_stalls_the_ticks(
    ticking: tuple[Counted, BackgroundScheduler],
) -> None:
    """What `make_due` is there for: the scheduler tells by the wall clock what is due."""
    count, _ = ticking
    with time_machine.travel(datetime.now(UTC) - timedelta(hours=5), tick=True):
        count.ran_again(count.times, 1.0)  # one may just have been under way
        assert not count.ran_again(count.times, 1.0)


@pytest.mark.parametrize("jumps", [(-5,), (3,), (-5, -5), (3, -3), (-2, 4)])
def test_made_due_they_run_again_after_every_jump(
    jumps: tuple[int, ...], ticking: tuple[Counted, BackgroundScheduler]
) -> None:
    count, scheduler = ticking
    with ExitStack() as jumped:
        for hours in jumps:
            there = datetime.now(UTC) + timedelta(hours=hours)
            jumped.enter_context(time_machine.travel(there, tick=True))
            make_due(scheduler)
            before = count.times
            assert count.ran_again(before + 2), f"no tick after {hours} h"


@pytest.mark.parametrize("zone", [LONDON, NEW_YORK])
@pytest.mark.parametrize(
    "night",
    ["2026-03-29 00:59:59", "2026-10-25 00:59:59", "2026-03-08 06:59:59", "2026-11-01 05:59:59"],
)
def test_a_night_that_clocks_change_is_none_to_the_ticks(
    zone: str, night: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second before the change, in the machine's own zone, with nobody to make them due."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    count = Counted()
    try:
        with time_machine.travel(at(night) + timedelta(seconds=0.7), tick=True):
            scheduler = make_scheduler([Tick("count", 0.25, count)])
            scheduler.start()
            assert count.ran_again(3)
            assert datetime.now(UTC) > at(night) + timedelta(seconds=1)
            scheduler.shutdown()
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_tick_speaks_as_the_shop_does_then() -> None:
    heard, language = list[Voice](), [Language.ENGLISH]
    run = guarded(Tick("look", 60, lambda: heard.append(voice())), lambda: Voice(language[0]))
    run()
    language[0] = Language.SPANISH
    run()
    assert heard == [Voice(Language.ENGLISH), Voice(Language.SPANISH)]
    assert voice() == Voice()
