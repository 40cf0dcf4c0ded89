"""Work that cannot be interrupted, done without waiting for it longer than is good."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextvars import copy_context
from queue import Empty, SimpleQueue

from service.alerts.notifiers.notifier import Answer
from service.records.outbox import Outcome
from service.voice import later

BUSY = Answer(Outcome.LATER, later("still busy with the message before"))
STOPPED = Answer(Outcome.UNCLEAR, later("broken off, because coatbell was stopped"))


class Bounded:
    """Does one thing at a time on a thread that does not hold up the end of the program.

    As long as one hangs no other is begun, so that threads do not pile up behind a phone that is away.
    """

    def __init__(self, name: str, time_out_s: float) -> None:
        self._name = name
        self._time_out_s = time_out_s
        self._lock = threading.Lock()
        self._answers: SimpleQueue[Answer] = SimpleQueue()
        self._busy = self._closed = False

    def run(self, work: Callable[[], Answer]) -> Answer | None:
        """What the work came to. None: it did not come back in time, and goes on by itself. `work` must not raise."""
        with self._lock:
            if self._closed or self._busy:
                return BUSY
            self._busy, self._answers = True, SimpleQueue()
            answers = self._answers
        threading.Thread(
            target=copy_context().run, args=(self._do, work, answers), name=f"send {self._name}", daemon=True
        ).start()
        try:
            return answers.get(timeout=self._time_out_s)
        except Empty:
            return None

    @property
    def busy(self) -> bool:
        """Whether something has not come to its end."""
        return self._busy

    def _do(self, work: Callable[[], Answer], answers: SimpleQueue[Answer]) -> None:
        try:
            answer = work()
        finally:
            self._busy = False  # before the answer is known: whoever hears it may send the next
        answers.put(answer)

    def close(self) -> None:
        """Wake whoever waits; nothing is begun any more."""
        with self._lock:
            self._closed = True
            self._answers.put(STOPPED)
