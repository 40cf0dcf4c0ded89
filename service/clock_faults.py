"""What people are told of a machine's clock that is wrong, was set, or is right again."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Protocol

from service.alerts.clock_wrong import clock_behind, clock_put, clock_right_again
from service.alerts.conditions import Condition
from service.clock import Clock
from service.heartbeat import SHOWN_FOR, Heartbeat
from service.records.shop_facts import Site

BEHIND_FOR_S = 300.0
"""Told only after so long: after a start the network sets the clock within a minute or two."""
JUMP_TOLD_S = 300.0
"""A clock set by no more than this makes no difference to a dip."""
RIGHT_FOR_S = 12 * 3600.0
CLOCK_TOLD = "clock told wrong"


class Memory(Protocol):
    """Small things kept over a restart."""

    def remember(self, name: str, value: str) -> None: ...

    def recall(self, name: str) -> str | None: ...


class ClockFaults:
    """Asked at each look. Who was told that the clock is wrong is told when it is right, over a restart too."""

    def __init__(self, heartbeat: Heartbeat, memory: Memory, clock: Clock) -> None:
        self._heartbeat, self._memory, self._clock = heartbeat, memory, clock
        self._behind_s: float | None = None  # by the steady clock, since when
        self._right_s: float | None = None
        self._told = memory.recall(CLOCK_TOLD) or ""

    def conditions(self, site: Site | None) -> list[Condition]:
        """What is worth telling now."""
        now, last_known = self._clock.now(), self._heartbeat.behind
        if last_known is not None:
            return [self._behind(last_known, now, site)]
        self._behind_s = None
        return [*self._put(now, site), *self._right_again(now)]

    def _behind(self, last_known: datetime, now: datetime, site: Site | None) -> Condition:
        steady = self._clock.monotonic()
        self._behind_s = steady if self._behind_s is None else self._behind_s
        self._right_s = None
        firing = steady - self._behind_s >= BEHIND_FOR_S
        if firing:
            self._note(last_known.isoformat())
        return clock_behind(last_known, now, site, firing)

    def _put(self, now: datetime, site: Site | None) -> Iterator[Condition]:
        jump = self._heartbeat.jump
        if jump is None or jump.cured or abs(jump.by_s) <= JUMP_TOLD_S:
            return
        if abs(now - jump.to) < SHOWN_FOR:
            yield clock_put(jump.to, jump.by_s, site, now)

    def _right_again(self, now: datetime) -> Iterator[Condition]:
        if not self._told:
            return
        steady = self._clock.monotonic()
        self._right_s = steady if self._right_s is None else self._right_s
        if steady - self._right_s >= RIGHT_FOR_S:
            self._note("")
        else:
            yield clock_right_again(datetime.fromisoformat(self._told), now)

    def _note(self, told: str) -> None:
        if told != self._told:
            self._memory.remember(CLOCK_TOLD, told)
            self._told = told
