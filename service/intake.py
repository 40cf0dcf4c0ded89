"""Readings on their way from the sensors to the records: queued, then written together by one hand."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import TypeVar

from service.errors import Unavailable
from service.reading import Reading, Reason, Rejected
from service.records.store import Records
from service.voice import say

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
        self._rejects: deque[Rejected] = deque()
        self._writing = threading.Lock()
        self.broker_state: tuple[bool, datetime, str] | None = None
        self.trouble: Unavailable | None = None

    def accept(self, reading: Reading) -> None:
        with self._lock:
            self._readings.append(reading)
            self._let_go()

    def reject(self, rejected: Rejected) -> None:
        with self._lock:
            self._rejects.append(rejected)
            self._let_go()

    def broker(self, connected: bool, at: datetime, words: str) -> None:
        self.broker_state = (connected, at, words)

    def write_out(self) -> int:
        """Store everything that waits; how many readings that were. Trouble is kept in `trouble`, nothing is lost."""
        written = 0
        with self._writing:
            try:
                for batch in self._batches(self._readings, self._records.add_readings):
                    self._on_stored(batch)
                    written += len(batch)
                for _ in self._batches(self._rejects, self._records.add_rejects):
                    pass
            except Unavailable as error:
                self.trouble = error
            else:
                self.trouble = None
        return written

    def _batches(self, queue: deque[Item], store: Callable[[list[Item]], None]) -> Iterator[list[Item]]:
        """Each batch once it is stored. One that could not be goes back to where it was."""
        while batch := self._first(queue):
            try:
                store(batch)
            except BaseException:
                with self._lock:
                    queue.extendleft(reversed(batch))
                    self._let_go()
                raise
            yield batch

    def _first(self, queue: deque[Item]) -> list[Item]:
        with self._lock:
            return [queue.popleft() for _ in range(min(BATCH, len(queue)))]

    def _let_go(self) -> None:
        """More cannot be kept: the oldest go, readings among the rejects, so that it can be seen."""
        while len(self._readings) > MOST_WAITING:
            self._overflow(self._readings.popleft())
        while len(self._rejects) > MOST_WAITING:
            self._rejects.popleft()

    def _overflow(self, lost: Reading) -> None:
        words = say("The records could not be written for so long that this reading had to be let go.")
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
