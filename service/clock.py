"""The one source of "now". Tests and the demo pass another."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Protocol

FIRST_YEAR, LAST_YEAR = 1970, 2999
"""Years a time may lie in. Far beyond, an instant has no place on the calendar of every time zone."""


def steady_s() -> float:
    """Seconds that never jump. On Linux time goes on while the machine sleeps (CLOCK_BOOTTIME, clock_gettime(2)), so
    that a sleep shows as time that passed and not as a clock put forward; elsewhere it may stand still meanwhile.
    """
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot is None else time.clock_gettime(boot)


class Clock(Protocol):
    """Now as an aware UTC instant, and seconds that never jump."""

    def now(self) -> datetime: ...

    def monotonic(self) -> float: ...


class SystemClock:
    """The machine's clock."""

    def now(self) -> datetime:
        return datetime.now(UTC)

    def monotonic(self) -> float:
        return steady_s()


class FastClock:
    """A clock that starts at `start` and runs `speed` times as fast as the machine's (the demo's)."""

    def __init__(self, start: datetime, speed: float) -> None:
        if start.tzinfo is None:
            raise ValueError("start must carry a time zone")
        self._start = start.astimezone(UTC)
        self._speed = speed
        self._began = time.monotonic()

    def now(self) -> datetime:
        return self._start + timedelta(seconds=self.monotonic())

    def monotonic(self) -> float:
        return (time.monotonic() - self._began) * self._speed


class FakeClock:
    """A clock that moves only when told; for tests."""

    def __init__(self, now: datetime) -> None:
        if now.tzinfo is None:
            raise ValueError("now must carry a time zone")
        self._now = now.astimezone(UTC)
        self._monotonic = 0.0

    def now(self) -> datetime:
        return self._now

    def monotonic(self) -> float:
        return self._monotonic

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self._now += timedelta(seconds=seconds)
        self._monotonic += seconds

    def jump(self, now: datetime) -> None:
        """Set the wall clock as somebody would by hand: monotonic time stays."""
        self._now = now.astimezone(UTC)
