"""Since when each event stands as it does: what phones go by to see that an hour moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.calendar.plan import Planned

SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Revision:
    """An event as it stands since `at` (whole seconds)."""

    event: Planned
    at: datetime

    @property
    def sequence(self) -> int:
        """Goes up with every revision (RFC 5545, 3.8.7.4): the seconds from the last dip to it.

        So nothing needs to be kept over a restart: what is seen anew then has a later second, and a larger number.
        """
        return max(int((self.at - self.event.since) / SECOND), 0)


class Revisions:
    """Remembers how each event stood when it was last asked for. Not for two threads at once."""

    def __init__(self) -> None:
        self._known: dict[str, Revision] = {}

    def note(self, events: Sequence[Planned], now: datetime) -> list[Revision]:
        """The events of now, each with the time of its newest revision; those that are gone are forgotten."""
        self._known = {event.uid: self._revised(event, now.replace(microsecond=0)) for event in events}
        return list(self._known.values())

    def _revised(self, event: Planned, now: datetime) -> Revision:
        before = self._known.get(event.uid)
        if before is None:
            return Revision(event, now)
        if before.event == event:
            return before
        return Revision(event, max(now, before.at + SECOND))  # also where the clock was put back meanwhile
