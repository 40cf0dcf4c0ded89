"""Tells open pages that the board changed. Bumped from any thread, awaited on any event loop."""

from __future__ import annotations

import asyncio
import threading
from contextlib import suppress


class Changes:
    """A version that counts up, and a way to wait for the next one. `closing` is set when the service stops."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._version = 0
        self._closing = False
        self._waiting: dict[asyncio.Event, asyncio.AbstractEventLoop] = {}

    @property
    def version(self) -> int:
        return self._version

    @property
    def closing(self) -> bool:
        return self._closing

    def bump(self) -> int:
        with self._lock:
            self._version += 1
            self._wake()
            return self._version

    def close(self) -> None:
        """Let every stream end."""
        with self._lock:
            self._closing = True
            self._wake()

    async def wait(self, version: int, timeout: float) -> int:
        """The newest version: at once if it is not `version` (or closing), else when it changes or time is up."""
        event = asyncio.Event()
        with self._lock:
            if self._version != version or self._closing:
                return self._version
            self._waiting[event] = asyncio.get_running_loop()
        try:
            await asyncio.wait_for(event.wait(), timeout)
        except TimeoutError:
            pass
        finally:
            with self._lock:
                self._waiting.pop(event, None)
        return self._version

    def _wake(self) -> None:
        for event, loop in self._waiting.items():
            with suppress(RuntimeError):  # a loop that has closed since has nobody left to wake
                loop.call_soon_threadsafe(event.set)
