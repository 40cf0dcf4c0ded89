"""The same key twice does the thing once: for writes that the ledger's own keys do not cover."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, TypeVar

from service.errors import Conflict
from service.voice import say

Result = TypeVar("Result")
MOST_KEPT = 500


class Replays:
    """Remembers what the last keys led to. Any thread may call it; a second tap waits for the first to end."""

    def __init__(self) -> None:
        self._held: OrderedDict[str, tuple[object, Any]] = OrderedDict()
        self._lock = threading.Lock()

    def once(self, key: str, content: object, do: Callable[[], Result]) -> Result:
        """What `do` gave for this key, doing it only the first time. A failure is not remembered."""
        with self._lock:
            if key in self._held:
                result: Result = self._again(key, content)
                return result
            result = do()
            self._held[key] = (content, result)
            if len(self._held) > MOST_KEPT:
                self._held.popitem(last=False)
            return result

    def _again(self, key: str, content: object) -> Any:
        told, result = self._held[key]
        if told != content:
            raise Conflict(
                "key_reused",
                say("That key was used for something else."),
                say("Send a new Idempotency-Key for it."),
            )
        return result
