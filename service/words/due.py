"""When a mould gets due, and how sure that is: the one place for these words.

``about 14:20, surely by 15:10``: as likely before 14:20 as after; by 15:10 nine in ten would be ready, or as many as
the shop wants before its bell rings, if these are more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.local_time import clock_time
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.voice import say

Clock = Callable[[datetime], str]

WAITING = (Stage.DRYING, Stage.FINAL_DRY)
ROUND = timedelta(minutes=5)
"""To so much hours are told where they are in doubt: nobody is sure of more, and a board stands still meanwhile."""


@dataclass(frozen=True, slots=True)
class DueRange:
    """Between which hours a mould gets due. about None: any time now. late None: no end is known."""

    about: datetime | None
    late: datetime | None

    def opening(self, clock: Clock) -> str:
        """``about 14:20``, ``any time now``"""
        return say("about {hour}", hour=clock(self.about)) if self.about else say("any time now")

    def end(self, clock: Clock) -> str:
        """``surely by 15:10``, ``perhaps much later``"""
        return surely_by(self.late, clock) if self.late else say("perhaps much later")

    def words(self, clock: Clock) -> str:
        """``about 14:20, surely by 15:10``"""
        return ", ".join((self.opening(clock), self.end(clock)))


def range_of(mould: MouldNow, now: datetime) -> DueRange | None:
    """None: it waits for no hour, none is known, it is due any minute, or one hour says it all."""
    about = likely_at(mould)
    if mould.stage not in WAITING or about is None or (mould.due_at is not None and mould.due_at <= now):
        return None
    late = _surely_at(mould)
    if late is None and mould.about_at is None and mould.due_early_at is None:
        return None
    if late is not None and late - about < ROUND:
        return None
    told = _rounded(about)
    return DueRange(told if told > now else None, late and _rounded_up(late))


def has_hour(mould: MouldNow) -> bool:
    """Whether anything is known of when it is due, if not when it is so as surely as its bell wants it."""
    return likely_at(mould) is not None


def likely_at(mould: MouldNow) -> datetime | None:
    """When it is as likely due as not; without that, its hour."""
    if mould.due_at is None and mould.never is not None:
        return None
    return mould.about_at or mould.due_at


def by_hour(mould: MouldNow) -> tuple[bool, bool, float, str]:
    """To sort by: what is due first, then by the hour that is shown; what has none comes last."""
    hour = likely_at(mould)
    return hour is None, mould.stage in WAITING, hour.timestamp() if hour else 0.0, mould.name


def due_range(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``about 14:20, surely by 15:10``. None as for `range_of`."""
    found = range_of(mould, now)
    return found.words(lambda at: clock_time(at, site, now)) if found else None


def sure_by(mould: MouldNow, now: datetime, clock: Clock) -> str:
    """``surely by 15:10``, also once its bell has rung. Empty where that is no news: not known, past, or one hour."""
    found, late = range_of(mould, now), mould.due_late_at
    if found:
        return found.end(clock)
    return "" if late is None or late <= now or _one_hour(mould) else surely_by(_rounded_up(late), clock)


def surely_by(late: datetime, clock: Clock) -> str:
    return say("surely by {hour}", hour=clock(late))


def _one_hour(mould: MouldNow) -> bool:
    about, late = likely_at(mould), mould.due_late_at
    return about is not None and late is not None and late - about < ROUND


def _surely_at(mould: MouldNow) -> datetime | None:
    """By when nine in ten are ready; or as many as the shop wants, for before that the bell does not ring."""
    if mould.due_at is None or mould.due_late_at is None:
        return None
    return max(mould.due_at, mould.due_late_at)


def _rounded(at: datetime) -> datetime:
    return _rounded_up(at - ROUND / 2)


def _rounded_up(at: datetime) -> datetime:
    """To the next full five minutes: what is surely so by an hour is so by then too."""
    over = timedelta(minutes=at.minute % 5, seconds=at.second, microseconds=at.microsecond)
    return at + (ROUND - over) if over else at
