"""What became known of the past air only later: what was worked out before that is worked out anew.

A reading that comes long after it was taken, a sensor hung elsewhere, another altitude: each is noted with the rooms
and the time from which it counts, and is remembered over a restart.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from service.records.store import Records
from service.room.placements import room_at

REMEMBERED_AS = "when past air changed"
ONE_BURST = timedelta(days=1)
"""What goes back to about the same time is one change: a broker that was away sends its backlog in many batches."""
MOST_KEPT = 200


@dataclass(frozen=True)
class PastChange:
    """`number` counts up. `room_id` None: of all rooms. `since`: from when on the air is other than was thought."""

    number: int
    room_id: int | None
    since: datetime

    def one_with(self, other: PastChange) -> bool:
        return self.room_id == other.room_id and abs(self.since - other.since) <= ONE_BURST


class PastChanges:
    """Noted from several threads. Numbers, not times: a clock may be set back."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._lock = threading.Lock()
        self._found: list[PastChange] | None = None

    @property
    def number(self) -> int:
        """Of the newest change: what is worked out from now on knows of it. 0: there was none."""
        with self._lock:
            return self._newest()

    def note(self, room_id: int | None, since: datetime) -> None:
        """The air of a room, or of all, was found to be other than thought from `since` on."""
        with self._lock:
            new = PastChange(self._newest() + 1, room_id, since)
            others = [old for old in self._all() if not old.one_with(new)]
            earliest = min([since, *(old.since for old in self._all() if old.one_with(new))])
            self._remember([*others, replace(new, since=earliest)])

    def other_since(self, number: int, rooms: Collection[int], until: datetime) -> bool:
        """Whether what was worked out knowing of `number`, of a mould in these rooms until then, rests on other air."""
        with self._lock:
            return any(
                change.number > number
                and change.since <= until
                and (change.room_id is None or change.room_id in rooms)
                for change in self._all()
            )

    def _remember(self, found: list[PastChange]) -> None:
        """Too many to keep: the oldest become one, of all rooms and from the earliest on."""
        while len(found) > MOST_KEPT:
            one, other, *rest = found
            found = [PastChange(max(one.number, other.number), None, min(one.since, other.since)), *rest]
        self._records.remember(REMEMBERED_AS, json.dumps([_said(change) for change in found]))
        self._found = found

    def _newest(self) -> int:
        return max((change.number for change in self._all()), default=0)

    def _all(self) -> list[PastChange]:
        if self._found is None:
            self._found = list(_read(self._records.recall(REMEMBERED_AS)))
        return self._found


def moved_since(
    before: Sequence[tuple[datetime, int | None]], after: Sequence[tuple[datetime, int | None]]
) -> tuple[datetime, set[int]] | None:
    """From when on a sensor's readings count for other rooms than before, and which those are; None: for the same."""
    times = sorted({at for at, _ in (*before, *after)})
    first = next((at for at in times if room_at(before, at) != room_at(after, at)), None)
    if first is None:
        return None
    rooms = [room_at(places, at) for at in times if at >= first for places in (before, after)]
    return first, {room for room in rooms if room is not None}


def _said(change: PastChange) -> tuple[int, int | None, str]:
    return change.number, change.room_id, change.since.isoformat()


def _read(text: str | None) -> Iterator[PastChange]:
    for number, room_id, since in json.loads(text or "[]"):
        yield PastChange(number, room_id, datetime.fromisoformat(since))
