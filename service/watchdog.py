"""A thread that does one thing again and again on steady time, whatever becomes of the wall clock."""

from __future__ import annotations

import threading
from collections.abc import Callable

from service.jobs import Tick, guarded
from service.voice import Voice


class Watchdog:
    """Runs a tick at once and then every `tick.every_s` seconds, by a clock nobody can set, until it is stopped."""

    def __init__(self, tick: Tick, voice: Callable[[], Voice] = Voice) -> None:
        self._every_s, self._do = tick.every_s, guarded(tick, voice)
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name=tick.name, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self, within_s: float = 1.0) -> None:
        """No more after this; one that runs is waited for, but not for long."""
        self._stopped.set()
        self._thread.join(within_s)

    def _run(self) -> None:
        self._do()
        while not self._stopped.wait(self._every_s):
            self._do()
