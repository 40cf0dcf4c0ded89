"""Readings on their way from the sensors to the records: queued, then written together by one hand."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import islice
from typing import TypeVar

from service.errors import Unavailable
from service.reading import Reading, Reason, Rejected
from service.records.store import Records

Item = TypeVar("Item")

MOST_WAITING = 20_000
BATCH = 500


class ReadingQueue:
    """An Intake that never blocks. `write_out` stores what waits; what cannot be stored stays, up to a bound.

    on_stored: called with each stored batch, on the thread that writes.
    """

    def __init__(self, records: Records, on_stored: Callable[[Sequence[Reading]], None]) -> None:
        self._records = records
        self._on_stored = on_stored
        self._lock = threading.Lock()
        self._readings: deque[Reading] = deque()
        self._rejects: deque[Rejected] = deque(maxlen=MOST_WAITING)
        self._writing = threading.Lock()
        self.broker_state: tuple[bool, datetime, str] | None = None
        self.trouble: Unavailable | None = None

    def accept(self, reading: Reading) -> None:
        with self._lock:
            if len(self._readings) >= MOST_WAITING:
                self._overflow(self._readings.popleft())
            self._readings.append(reading)

    def reject(self, rejected: Rejected) -> None:
        with self._lock:
            self._rejects.append(rejected)

    def broker(self, connected: bool, at: datetime, words: str) -> None:
        self.broker_state = (connected, at, words)

    def write_out(self) -> int:
        """Store everything that waits; how many readings that were. Trouble is kept in `trouble`, nothing is lost."""
        with self._writing:
            try:
                written = self._write_readings()
                self._write_rejects()
            except Unavailable as error:
                self.trouble = error
                return 0
            self.trouble = None
            return written

    def _write_readings(self) -> int:
        written = 0
        while batch := self._first(self._readings):
            self._records.add_readings(batch)
            self._drop(self._readings, len(batch))
            self._on_stored(batch)
            written += len(batch)
        return written

    def _write_rejects(self) -> None:
        while batch := self._first(self._rejects):
            self._records.add_rejects(batch)
            self._drop(self._rejects, len(batch))

    def _first(self, queue: deque[Item]) -> list[Item]:
        with self._lock:
            return list(islice(queue, BATCH))

    def _drop(self, queue: deque[Item], count: int) -> None:
        with self._lock:
            for _ in range(min(count, len(queue))):
                queue.popleft()

    def _overflow(self, lost: Reading) -> None:
        words = "The records could not be written for so long that this reading had to be let go."
        self._rejects.append(
            Rejected(
                lost.sensor,
                f"{lost.value!r}",
                lost.received_at,
                Reason.OVERFLOW,
                words,
                lost.sensor,
                lost.quantity,
            )
        )
