"""Rounds of sending, one at a time a recipient and each on a thread of its own: nobody waits for another's phone."""

from __future__ import annotations

import threading
from collections.abc import Callable, Set
from contextlib import suppress
from contextvars import copy_context

WorkOfARound = Callable[[], None]


class Round(threading.Thread):
    """`error`: what it ended with, if not well."""

    def __init__(self, name: str, work: WorkOfARound) -> None:
        super().__init__(name=f"tell {name}", daemon=True)
        self._work = work
        self._context = copy_context()  # in the language of whoever begins it
        self.error: Exception | None = None

    def run(self) -> None:
        try:
            self._context.run(self._work)
        except Exception as error:  # raised where somebody can be told: in `Rounds.check`
            self.error = error


class Rounds:
    """To be begun by one thread at a time."""

    def __init__(self) -> None:
        self._rounds: dict[str, Round] = {}

    def busy(self) -> Set[str]:
        """Who is being told something just now."""
        return {name for name, each in list(self._rounds.items()) if each.is_alive()}

    def begin(self, name: str, work: WorkOfARound) -> Round:
        """Begin one for somebody who is not busy."""
        self._rounds[name] = begun = Round(name, work)
        begun.start()
        return begun

    def wait(self, name: str, for_s: float) -> bool:
        """Whether this recipient's round is over by then."""
        running = self._rounds.get(name)
        if running is not None:
            running.join(for_s)
        return running is None or not running.is_alive()

    def check(self) -> None:
        """Raise what a round that is over ended with; the next call raises that of the next."""
        for name, each in list(self._rounds.items()):
            if not each.is_alive():
                with suppress(KeyError):
                    del self._rounds[name]
                if each.error is not None:
                    raise each.error

    def close(self, for_s: float) -> None:
        """Give those that run so long, all together, to come to an end."""
        for name in self.busy():
            self.wait(name, for_s / max(len(self.busy()), 1))
