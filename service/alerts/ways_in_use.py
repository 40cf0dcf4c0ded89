"""Which ways are used now: not those that refused for good, nor for a while those that asked to be left alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from service.alerts.notifiers.notifier import Answer
from service.alerts.rules import SendingRules
from service.alerts.ways import Way, Ways
from service.records.outbox import Outcome
from service.records.ways_store import WayOff


class OffRecords(Protocol):
    """The part of the records that remembers ways that are off."""

    def switch_off(self, recipient: str, way: str, mark: str, at: datetime, words: str) -> None: ...

    def switch_on(self, recipient: str, mark: str) -> None: ...

    def ways_off(self) -> list[WayOff]: ...


class WaysInUse:
    """A way is switched off when it says that it is gone, or refuses twice in a row with `first_retry` between.

    Once is not enough: a server that starts anew, or is being set up, refuses for a moment what it takes again later,
    and a phone must not fall silent for that. What was refused once is kept in memory only: after a restart it takes
    two refusals again.
    """

    def __init__(self, records: OffRecords, ways: Ways, sending: SendingRules) -> None:
        self._records, self._ways, self._sending = records, ways, sending
        self._refused_at: dict[tuple[str, str], datetime] = {}
        self._rests_until: dict[tuple[str, str], datetime] = {}

    def take(self, sending: SendingRules) -> None:
        """Go by these from now on."""
        self._sending = sending

    def are_known(self, ways: Iterable[Way]) -> bool:
        """Whether all of these are still ways to somebody: they may have been changed a moment ago."""
        return {_id(way) for way in ways} <= {_id(way) for way in self._ways.all()}

    def by_recipient(self) -> dict[str, list[Way]]:
        """Every recipient's ways that are not off, in the order in which they are tried."""
        off = {(row.recipient, row.mark) for row in self._records.ways_off()}
        found: dict[str, list[Way]] = {}
        for way in self._ways.all():
            usable = found.setdefault(way.recipient, [])
            if _id(way) not in off:
                usable.append(way)
        return found

    def off(self) -> list[WayOff]:
        """Those that are off, the one that has been so for longest first."""
        known = {_id(way) for way in self._ways.all()}
        return [row for row in self._records.ways_off() if (row.recipient, row.mark) in known]

    def forget_old(self) -> None:
        """An address that was changed is another way: what the one before refused says nothing of it."""
        known = {_id(way) for way in self._ways.all()}
        for row in self._records.ways_off():
            if (row.recipient, row.mark) not in known:
                self._records.switch_on(row.recipient, row.mark)

    def rests_until(self, way: Way, now: datetime) -> datetime | None:
        """Until when it asked to be left alone. None: it may be tried."""
        until = self._rests_until.get(_id(way))
        longest = timedelta(
            seconds=self._sending.longest_retry_s
        )  # further away: the clock was set back since
        return until if until is not None and now < until <= now + longest else None

    def answered(self, way: Way, answer: Answer, now: datetime) -> None:
        """Draw the consequences of an attempt."""
        self._rests_until.pop(_id(way), None)
        if answer.outcome is Outcome.REFUSED:
            self._refused(way, answer, now)
            return
        self._refused_at.pop(_id(way), None)
        if answer.outcome is Outcome.LATER and answer.retry_after_s:
            wait_s = min(answer.retry_after_s, self._sending.longest_retry_s)
            self._rests_until[_id(way)] = now + timedelta(seconds=wait_s)

    def took_a_test(self, way: Way) -> None:
        """It works: use it again."""
        self._refused_at.pop(_id(way), None)
        self._rests_until.pop(_id(way), None)
        self._records.switch_on(way.recipient, way.mark)

    def _refused(self, way: Way, answer: Answer, now: datetime) -> None:
        first = self._refused_at.setdefault(_id(way), now)
        if now < first:  # the clock was set back
            self._refused_at[_id(way)] = first = now
        if answer.gone or now - first >= timedelta(seconds=self._sending.first_retry_s):
            self._refused_at.pop(_id(way))
            self._records.switch_off(way.recipient, way.name, way.mark, now, answer.words)


def main_and_extra(ways: Sequence[Way]) -> tuple[list[Way], list[Way]]:
    """Those that are tried until one takes it, and those that are tried in any case."""
    return [way for way in ways if not way.extra], [way for way in ways if way.extra]


def settles(way: Way, ways: Sequence[Way]) -> bool:
    """Whether a message that it takes has been told, by these ways in use.

    Not by an extra one, where another is: a push service may take a message and never bring it.
    """
    return not way.extra or all(other.extra for other in ways)


def _id(way: Way) -> tuple[str, str]:
    return way.recipient, way.mark
