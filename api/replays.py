"""The same key twice does the thing once: for writes that the ledger's own keys do not cover."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from service.errors import Conflict
from service.voice import say

Result = TypeVar("Result")
MOST_KEPT = 500


class Replays:
    """Remembers what the last keys led to. Any thread may call it; a second tap waits for the first to end.

    Other keys do not: a test message to a machine that hangs must hold up nobody else's form.
    """

    def __init__(self) -> None:
        self._held: OrderedDict[str, tuple[object, Any]] = OrderedDict()
        self._turns: dict[str, _Turn] = {}
        self._lock = threading.Lock()

    def once(self, key: str, content: object, do: Callable[[], Result]) -> Result:
        """What `do` gave for this key, doing it only the first time. A failure is not remembered."""
        with self._one_at_a_time(key):
            held = self._held.get(key)
            if held is not None:
                result: Result = _again(held, content)
                return result
            result = do()
            with self._lock:
                self._held[key] = (content, result)
                if len(self._held) > MOST_KEPT:
                    self._held.popitem(last=False)
            return result

    @contextmanager
    def _one_at_a_time(self, key: str) -> Iterator[None]:
        with self._lock:
            turn = self._turns.setdefault(key, _Turn())
            turn.waiting += 1
        try:
            with turn.lock:
                yield
        finally:
            with self._lock:
                turn.waiting -= 1
                if not turn.waiting:
                    del self._turns[key]


class _Turn:
    """Of one key. waiting: how many want it, with the one whose it is."""

    def __init__(self) -> None:
        self.lock, self.waiting = threading.Lock(), 0


def _again(held: tuple[object, Any], content: object) -> Any:
    told, result = held
    if told != content:
        raise Conflict(
            "key_reused",
            say("That key was used for something else."),
            say("Send a new Idempotency-Key for it."),
        )
    return result
