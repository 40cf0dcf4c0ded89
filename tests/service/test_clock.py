"""The clocks: what now is, and seconds that never jump."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta, timezone

import pytest
import time_machine

from service.clock import Clock, FakeClock, FastClock, SystemClock

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def test_every_clock_is_a_clock() -> None:
    clocks: list[Clock] = [SystemClock(), FastClock(NOON, 60.0), FakeClock(NOON)]
    for clock in clocks:
        assert clock.now().utcoffset() == timedelta(0)
        assert clock.monotonic() >= 0.0


def test_the_machines_clock_tells_the_machines_time() -> None:
    with time_machine.travel(NOON, tick=False):
        assert SystemClock().now() == NOON


def test_the_machines_seconds_go_on_when_its_date_is_set_back() -> None:
    clock = SystemClock()
    before = clock.monotonic()
    with time_machine.travel(NOON - timedelta(days=365)):
        assert clock.monotonic() >= before


@pytest.mark.skipif(not hasattr(time, "CLOCK_BOOTTIME"), reason="this system has no such clock")
def test_the_machines_seconds_go_on_while_it_sleeps() -> None:
    """clock_gettime(2): CLOCK_BOOTTIME is CLOCK_MONOTONIC, but with the time the system was suspended."""
    before = time.clock_gettime(time.CLOCK_BOOTTIME)
    assert before <= SystemClock().monotonic() <= time.clock_gettime(time.CLOCK_BOOTTIME)


def test_where_the_system_has_no_such_clock_the_steady_one_does(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    before = time.monotonic()
    assert before <= SystemClock().monotonic() <= time.monotonic()


class TestFastClock:
    def test_it_starts_where_it_is_told(self) -> None:
        assert FastClock(NOON, 1.0).now() - NOON < timedelta(seconds=5)

    def test_an_hour_goes_by_in_a_second_at_speed_3600(self, monkeypatch: pytest.MonkeyPatch) -> None:
        ticks = iter([100.0, 101.0, 101.5])
        monkeypatch.setattr("service.clock.time.monotonic", lambda: next(ticks))
        clock = FastClock(NOON, 3600.0)
        assert clock.now() == NOON + timedelta(hours=1)
        assert clock.monotonic() == pytest.approx(5400.0)

    def test_it_brings_other_zones_to_utc(self) -> None:
        start = datetime(2026, 3, 1, 7, 0, tzinfo=timezone(timedelta(hours=-5)))
        assert abs(FastClock(start, 1.0).now() - NOON) < timedelta(seconds=5)

    def test_it_wants_a_time_zone(self) -> None:
        with pytest.raises(ValueError, match="time zone"):
            FastClock(NOON.replace(tzinfo=None), 1.0)


class TestFakeClock:
    def test_it_stands_still(self) -> None:
        clock = FakeClock(NOON)
        assert (clock.now(), clock.now()) == (NOON, NOON)
        assert clock.monotonic() == 0.0

    def test_time_passes_when_told(self) -> None:
        clock = FakeClock(NOON)
        clock.advance(90.0)
        assert clock.now() == NOON + timedelta(seconds=90)
        assert clock.monotonic() == 90.0

    def test_a_jump_moves_the_date_but_not_the_seconds(self) -> None:
        clock = FakeClock(NOON)
        clock.advance(10.0)
        clock.jump(NOON - timedelta(days=2))
        assert clock.now() == NOON - timedelta(days=2)
        assert clock.monotonic() == 10.0

    def test_it_brings_other_zones_to_utc(self) -> None:
        clock = FakeClock(datetime(2026, 3, 1, 13, 0, tzinfo=timezone(timedelta(hours=1))))
        assert clock.now() == NOON
        assert clock.now().tzinfo is UTC

    def test_it_wants_a_time_zone(self) -> None:
        with pytest.raises(ValueError, match="time zone"):
            FakeClock(NOON.replace(tzinfo=None))
