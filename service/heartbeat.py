"""Notices when the machine's clock jumped or starts in the past, as a Pi without a clock chip does."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from service.clock import Clock
from service.room.views import Trouble

JUMP_S = 60.0
"""Wall clock and steady clock may drift apart this much between two beats."""
SETTLES_S = 900.0
"""A clock that was put forward is noted as right only after so long: the mistake is often seen at once."""
SHOWN_FOR = timedelta(hours=2)
BEHIND = (
    "The clock of this machine is behind what was already recorded. Set it right; "
    "until then nothing is worked out anew. If it is right, say so here."
)


class Heartbeat:
    """Beaten regularly. `last_known` is the last instant an earlier run was sure of."""

    def __init__(self, clock: Clock, last_known: datetime | None) -> None:
        self._clock = clock
        self._last_known = last_known
        self._wall, self._steady = clock.now(), clock.monotonic()
        self._jump: tuple[datetime, float] | None = None
        self._unsure_until = -math.inf  # by the steady clock

    def beat(self) -> float:
        """Compare the clocks; returns the seconds the wall clock jumped since the last beat (0 if it did not)."""
        wall, steady = self._clock.now(), self._clock.monotonic()
        jumped = (wall - self._wall).total_seconds() - (steady - self._steady)
        self._wall, self._steady = wall, steady
        if abs(jumped) <= JUMP_S:
            return 0.0
        self._jump = (wall, jumped)
        self._unsure_until = steady + SETTLES_S if jumped > 0 else -math.inf
        return jumped

    def trust(self) -> None:
        """Take the clock as right: a person looked at it."""
        self._last_known = None

    @property
    def sure(self) -> bool:
        """Whether this instant may be noted as one that was."""
        return not self.in_the_past and self._clock.monotonic() >= self._unsure_until

    @property
    def in_the_past(self) -> bool:
        """Whether the clock stands before what was already recorded: nothing may be worked out then."""
        return self._last_known is not None and self._clock.now() < self._last_known - timedelta(
            seconds=JUMP_S
        )

    def troubles(self, now: datetime) -> list[Trouble]:
        """What to tell on the board."""
        if self.in_the_past and self._last_known is not None:
            return [Trouble("clock_behind", BEHIND, self._last_known)]
        if self._jump is not None and abs(now - self._jump[0]) < SHOWN_FOR:
            way = "forward" if self._jump[1] > 0 else "back"
            words = f"The clock of this machine jumped {way} by {_length(abs(self._jump[1]))}."
            return [Trouble("clock_jumped", f"{words} Check the times of today's dips.", self._jump[0])]
        return []


def _length(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{round(minutes / 60)} h"
