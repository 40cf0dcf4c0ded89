"""Counts what came faster than it could be taken, so that nothing is lost in silence."""

from __future__ import annotations

import threading

from sensors.message import Message
from service.held import held
from service.reading import Reason, Rejected

TOLD_S = 1.0


class Overflow:
    """Counts messages that found the queue full; told once a second at most, none left untold."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._count = 0
        self._last: Message | None = None
        self._told_s = -TOLD_S

    def add(self, message: Message) -> None:
        with self._lock:
            self._count += 1
            self._last = message

    def due(self, now_s: float) -> Rejected | None:
        if self._last is None or now_s - self._told_s < TOLD_S:
            return None
        self._told_s = now_s
        return self.take()

    def take(self) -> Rejected | None:
        with self._lock:
            count, last, self._count, self._last = self._count, self._last, 0, None
        if last is None:
            return None
        words = held(
            "{count} messages came faster than they could be taken and were left out; this is the last of "
            "them.",
            count=count,
        )
        return last.rejected(Reason.OVERFLOW, words)
