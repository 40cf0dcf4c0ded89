"""Old readings thinned out to hourly means, a little at a time, so that nobody waits and the disk does not fill up."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from service.records.store import Records
from service.room.keeper import Keeper
from service.settings import Settings
from service.storage import StorageNow, look_at_storage

LEAST_KEPT = timedelta(days=100)
"""However little room there is: a mould may have hung for 90 days when it fails, and its air is asked for then."""
PAUSE_S = 0.02
"""Between two transactions, in which others write."""


class Retention:
    """One pass at a time: `thin_out(now)`. closing: tells that the service ends; the rest is done another time."""

    def __init__(
        self,
        records: Records,
        keeper: Keeper,
        settings: Settings,
        closing: Callable[[], bool] = lambda: False,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        self._records, self._keeper, self._settings = records, keeper, settings
        self._closing, self._pause = closing, pause

    def thin_out(self, now: datetime) -> int:
        """What is older than is to be kept; where room runs out also what is younger, but never what must be kept."""
        kept = self._must_be_kept_since(now)
        asked = now - timedelta(seconds=self._settings.data.keep_readings_s)
        gone = self._while(lambda: self._records.thin_out_some(min(asked, kept)))
        gone += self._while(lambda: self._make_room(kept, now))
        self._while(lambda: int(self._records.give_back_some()))
        return gone

    def storage(self, now: datetime) -> StorageNow:
        return look_at_storage(self._records, self._settings, now)

    def _must_be_kept_since(self, now: datetime) -> datetime:
        """From then on readings stay as they came: the newest, and all of the moulds that still hang."""
        return min(now - LEAST_KEPT, self._keeper.needs_air_since(now))

    def _make_room(self, kept: datetime, now: datetime) -> int:
        return self._records.thin_out_some(kept) if self.storage(now).too_many_readings else 0

    def _while(self, some: Callable[[], int]) -> int:
        """Again and again, until there is no more to do."""
        done = 0
        while not self._closing() and (more := some()):
            done += more
            self._pause(PAUSE_S)
        return done
