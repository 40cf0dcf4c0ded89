"""Keeps what was found until the shells it was found in change: a page is looked at more often than a mould ends."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable

from service.failures.look import look
from service.failures.views import Failures, Looked
from service.room.views import ShellSummary


class Remembered:
    """From any thread. Who comes while somebody else's answer is worked out waits for it instead of doing it again."""

    def __init__(self) -> None:
        self._one_at_a_time = threading.Lock()
        self._as_of: Hashable = None
        self._shells: list[ShellSummary] | None = None
        self._found: dict[Looked, Failures] = {}

    def failures(self, looked: Looked, as_of: Hashable, shells: Callable[[], list[ShellSummary]]) -> Failures:
        """as_of: as long as it is the same, the shells need not be asked for again."""
        with self._one_at_a_time:
            if self._shells is None or as_of != self._as_of:
                fresh = shells()
                if fresh != self._shells:
                    self._found = {}
                self._shells, self._as_of = fresh, as_of
            if looked not in self._found:
                self._found[looked] = look(self._shells, looked)
            return self._found[looked]
