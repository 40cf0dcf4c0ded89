"""Work that cannot be interrupted, done without waiting for it longer than is good."""

from __future__ import annotations

import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

from service.alerts.notifiers.notifier import Answer
from service.records.outbox import Outcome

BUSY = Answer(Outcome.LATER, "still busy with the message before")
STOPPED = Answer(Outcome.UNCLEAR, "broken off, because coatbell was stopped")


class Bounded:
    """Does one thing at a time on a thread that does not hold up the end of the program.

    As long as one hangs no other is begun, so that threads do not pile up behind a phone that is away.
    """

    def __init__(self, name: str, time_out_s: float) -> None:
        self._name = name
        self._time_out_s = time_out_s
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._answers: SimpleQueue[Answer] = SimpleQueue()
        self._closed = False

    def run(self, work: Callable[[], Answer]) -> Answer | None:
        """What the work came to. None: it did not come back in time, and goes on by itself. `work` must not raise."""
        with self._lock:
            if self._closed or (self._thread is not None and self._thread.is_alive()):
                return BUSY
            answers: SimpleQueue[Answer] = SimpleQueue()
            self._answers = answers
            self._thread = threading.Thread(
                target=lambda: answers.put(work()), name=f"send {self._name}", daemon=True
            )
            self._thread.start()
        try:
            return answers.get(timeout=self._time_out_s)
        except Empty:
            return None

    def close(self) -> None:
        """Wake whoever waits; nothing is begun any more."""
        with self._lock:
            self._closed = True
            self._answers.put(STOPPED)
