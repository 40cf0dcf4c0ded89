"""The air that each mould hung in, over the rooms it hung in one after the other.

A room's own air counts for a mould from when it came, if the room was measured in the day before that; else from
when it is first measured while the mould hangs there. Until then what the mould hung in before goes on, and where
there was nothing before, the first air it gets stands in: neither is measured. All this rests on the mould's own
life, so that it is the same on the day, in the audit and after a restart.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

from service.drying.members import MemberAir
from service.drying.weather import AirSeries
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.estimate import FORECAST_S
from service.room.heard import BIN_S
from service.room.own_numbers import Own
from service.room.progress import Progress
from service.room.room_view import RoomState

COUNTS_FOR = timedelta(hours=24)
"""Air measured longer than this before a mould came is none of its own (our choice: each hour of the day is in it)."""

Rooms = Sequence[tuple[datetime, int]]
Airs = Mapping[int, RoomAir | None]


@dataclass(frozen=True)
class HungIn:
    """A mould's own air; None where nothing was measured that counts for it.

    rooms_now: its room's own air is what it hangs in now. rooms_always: and was all along.
    """

    air: RoomAir | None
    rooms_now: bool
    rooms_always: bool


@dataclass(frozen=True)
class Hung:
    """A mould, the air it hung in up to now, that to come as its members may have it, and its own numbers."""

    p: Progress
    air: RoomAir
    to_come: AirSeries | MemberAir
    own: Own = ()

    @property
    def likeliest(self) -> AirSeries:
        """The air to come, as it is likeliest."""
        return self.to_come if isinstance(self.to_come, AirSeries) else self.to_come.base


def in_one_air(hung: Sequence[Hung]) -> list[list[Hung]]:
    """Those in the same air together: they are worked out at once."""
    groups: dict[int, list[Hung]] = defaultdict(list)
    for one in hung:
        groups[id(one.air)].append(one)
    return list(groups.values())


def hung_in(rooms: Rooms, airs: Airs) -> HungIn:
    """The air of one room after the other."""
    found, own_s = None, None
    for (at_s, air), until_s in zip(_stays(rooms, airs), _ends(rooms), strict=True):
        own_s = _own_from(air, at_s, until_s)
        if found is not None:
            found = found.held_from(at_s)
        if air is not None and own_s is not None:
            found = (
                air.carried_back(own_s, rooms[0][0].timestamp()) if found is None else found.then(air, own_s)
            )
    always = len(rooms) == 1 and own_s == rooms[0][0].timestamp()
    return HungIn(found, own_s is not None, always)


def _stays(rooms: Rooms, airs: Airs) -> list[tuple[float, RoomAir | None]]:
    return [(at.timestamp(), airs[room_id]) for at, room_id in rooms]


def _ends(rooms: Rooms) -> list[float]:
    return [*(after.timestamp() for _, (after, _) in pairwise(rooms)), float("inf")]


def _own_from(air: RoomAir | None, at_s: float, until_s: float) -> float | None:
    """From when a room's own air counts for a mould that hangs there from `at_s` to `until_s`."""
    if air is None:
        return None
    good_s = air.series.time_s[air.measured]
    good_s = good_s[(good_s >= at_s - COUNTS_FOR.total_seconds()) & (good_s < until_s)]
    return max(at_s, float(good_s[0]) - BIN_S / 2) if good_s.size else None


def by_air(
    state: RoomState, here: Sequence[Progress], own: Mapping[int, HungIn], now: datetime
) -> list[tuple[RoomState, list[Progress]]]:
    """The moulds of a room, those in the same air together, with the room as it is for them."""
    together = [p for p in here if own[p.mould_id].rooms_now]
    alone = [p for p in here if not own[p.mould_id].rooms_now]
    brought = [(_with_air(state, own[p.mould_id].air, now), [p]) for p in alone]
    return [(state, together), *brought] if together else brought


def _with_air(state: RoomState, air: RoomAir | None, now: datetime) -> RoomState:
    """A room as it is for a mould that hangs in other air, or in none that is known: its sensors tell nothing of it."""
    to_come = forecast_air(air, now.timestamp(), FORECAST_S) if air else None
    return replace(state, air=air, to_come=to_come, sensors=())
