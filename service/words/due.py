"""How sure an hour is, in words."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.local_time import clock_time
from service.records.shop_facts import Site
from service.room.views import MouldNow
from service.voice import say

ROUND = timedelta(minutes=5)
"""What is surely so by an hour is so by the next full five minutes too, and no estimate is sure of more."""


def due_range(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``surely by 15:10``: nine in ten would be ready by then. None: not known, or as good as the hour itself."""
    late = mould.due_late_at
    if late is None or mould.due_at is None or late - mould.due_at < ROUND:
        return None
    return say("surely by {time}", time=clock_time(_rounded_up(late), site, now))


def _rounded_up(at: datetime) -> datetime:
    over = timedelta(minutes=at.minute % 5, seconds=at.second, microseconds=at.microsecond)
    return at + (ROUND - over) if over else at
