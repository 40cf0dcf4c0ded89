"""Notices when coatbell did not run for a while, and when the machine's clock was set or starts in the past.

Two clocks are compared from beat to beat. Both went on: time passed in which nobody beat, so coatbell did not run
(no power, the machine slept, the process stood still). Only the wall clock moved: somebody, or the network, set it.
"""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import partial

from service.clock import Clock
from service.held import Held
from service.local_time import span
from service.room.views import Trouble
from service.voice import later, say

JUMP_S = 60.0
"""Wall clock and steady clock may drift apart this much between two beats."""
SETTLES_S = 900.0
"""A clock that was put forward is noted as right only after so long: the mistake is often seen at once. Put forward so
soon after a start, it is one that started in the past: then coatbell had not run (our choice)."""
BREAK_S = 600.0
"""Having stood still for so long, coatbell begins anew to listen: nobody was silent for a time nobody listened in."""
SHOWN_FOR = timedelta(hours=12)
"""Half a day: what was dipped before is waited for about as long."""
BEHIND = later(
    "The clock of this machine is behind what was already recorded. Set it right; until then "
    "nothing is worked out anew and no bell rings. If it is right, say so here."
)
PUT_FORWARD, PUT_BACK, SET_RIGHT, BEHIND_NOW = (
    "clock_put_forward",
    "clock_put_back",
    "clock_set_right",
    "clock_behind",
)
"""What is shown on the board, by its code."""


class How(StrEnum):
    """How coatbell came not to run."""

    STOPPED = "stopped"  # ended as asked
    CUT = "cut"  # ended in the middle: no power, or killed
    STOOD_STILL = "stood still"  # the machine slept, or the process was held up


@dataclass(frozen=True, slots=True)
class Gap:
    """A time in which coatbell did not run."""

    since: datetime
    until: datetime
    how: How

    @property
    def length_s(self) -> float:
        return (self.until - self.since).total_seconds()


@dataclass(frozen=True, slots=True)
class Jump:
    """The wall clock was set: by so many seconds, to what it showed then. `cured`: it had started in the past."""

    to: datetime
    by_s: float
    cured: bool


@dataclass(frozen=True, slots=True)
class EarlierRun:
    """When an earlier run was last alive, and whether it ended as asked."""

    at: datetime
    in_order: bool


@dataclass(frozen=True, slots=True)
class Beat:
    """What one beat found: the time since the last one, and whether the clock was set in it."""

    gap: Gap
    jump: Jump | None = None


class Heartbeat:
    """Beaten regularly, from any thread. `last_known` is the last instant an earlier run was sure of.

    jump: the last one. put_back: whether it put back a clock that nobody had put forward in this run, so that what
    was done before now lies ahead. back_since: since when coatbell runs on, without a break, by a clock nobody set.
    """

    def __init__(self, clock: Clock, last_known: datetime | None, earlier: EarlierRun | None = None) -> None:
        self._clock = clock
        self._last_known = last_known
        self._earlier = self._to_come = earlier
        self._wall, self._steady = clock.now(), clock.monotonic()
        self._began = self._steady
        self._unsure_until = -math.inf  # by the steady clock
        self._ahead_s = 0.0
        self._lock = threading.Lock()
        self.jump: Jump | None = None
        self.put_back = False
        self.back_since = self._wall

    def beat(self) -> Beat:
        """Compare the clocks with what they were at the last beat."""
        with self._lock:
            before, was_behind = self._wall, self._is_behind(self._wall)
            wall, steady = self._clock.now(), self._clock.monotonic()
            passed = steady - self._steady
            jumped = (wall - before).total_seconds() - passed
            self._wall, self._steady = wall, steady
            jump = self._jumped(jumped, wall, steady, was_behind) if abs(jumped) > JUMP_S else None
            gap = self._gap_before(jump) or Gap(wall - timedelta(seconds=passed), wall, How.STOOD_STILL)
            if jump or gap.how is not How.STOOD_STILL or passed >= BREAK_S:
                self.back_since = wall
            return Beat(gap, jump)

    def _jumped(self, by_s: float, to: datetime, steady: float, was_behind: bool) -> Jump:
        fresh = self._earlier is not None and steady - self._began < SETTLES_S
        self.jump = Jump(to, by_s, cured=by_s > 0 and (was_behind or fresh))
        self._unsure_until = steady + SETTLES_S if by_s > 0 else -math.inf
        self.put_back = by_s < 0 and self._ahead_s <= JUMP_S
        self._ahead_s += 0.0 if self.jump.cured else by_s
        return self.jump

    def _gap_before(self, jump: Jump | None) -> Gap | None:
        """From an earlier run to now: once, and once more where the clock only then shows how long it really was."""
        earlier = self._earlier if jump is not None and jump.cured else self._to_come
        if earlier is None or self._wall < earlier.at:
            return None
        self._to_come = None
        return Gap(earlier.at, self._wall, How.STOPPED if earlier.in_order else How.CUT)

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
        return self._is_behind(self._clock.now())

    @property
    def behind(self) -> datetime | None:
        """What the clock stands behind, if it does."""
        return self._last_known if self.in_the_past else None

    def _is_behind(self, wall: datetime) -> bool:
        return self._last_known is not None and wall < self._last_known - timedelta(seconds=JUMP_S)

    def troubles(self, now: datetime) -> list[Trouble]:
        """What to tell on the board."""
        if self.in_the_past and self._last_known is not None:
            return [Trouble(BEHIND_NOW, Held(partial(say, BEHIND)), self._last_known)]
        jump = self.jump
        if jump is not None and abs(now - jump.to) < SHOWN_FOR:
            return [Trouble(_code(jump), Held(partial(jump_words, jump)), jump.to, abs(jump.by_s))]
        return []


def _code(jump: Jump) -> str:
    if jump.cured:
        return SET_RIGHT
    return PUT_FORWARD if jump.by_s > 0 else PUT_BACK


def jump_words(jump: Jump) -> str:
    """What a person should know of it."""
    by = span(abs(jump.by_s))
    if jump.by_s > 0:
        words = say("The clock of this machine was put forward by {by}.", by=by)
    else:
        words = say("The clock of this machine was put back by {by}.", by=by)
    if jump.cured:
        return say("{words} It had started in the past.", words=words)
    return say("{words} Look at the times of today's dips: they may be wrong by as much.", words=words)
