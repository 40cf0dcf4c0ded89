"""What stands in the rooms of a made-up shop, and made-up answers to “What if?”. Nothing here is physics.

Each mould hung besides makes every other wait ten minutes longer and the air a point damper; a dehumidifier or fan that
is on takes half an hour off and five points; whatever is off adds as much.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from service.clock import Clock
from service.errors import NotFound
from service.learning.room import RoomNumber
from service.records.set_up import Part, SetUp
from service.records.shop_facts import Room
from service.room.room_fittings import RoomFittings, Runs, fittings_of_rooms
from service.room.room_views import LearnedNumber, LearnedRoom
from service.room.views import Board
from service.room.what_if_views import (
    AirThen,
    Assumed,
    Missing,
    MoreThen,
    MouldThen,
    WhatIf,
    WhatThen,
)
from service.room_desk import RoomKept
from service.voice import say

HOUR_S = 3600.0
NUMBERS = (
    LearnedNumber(
        RoomNumber.AIR_CHANGES, 0.8 / HOUR_S, 0.6 / HOUR_S, 1.1 / HOUR_S, 0.3 / HOUR_S, 2.2 / HOUR_S
    ),
    LearnedNumber(RoomNumber.MOULDS, 0.9, 0.6, 1.3, 0.6, 1.7),
    LearnedNumber(
        RoomNumber.FOLLOWS, 0.25 / HOUR_S, 0.2 / HOUR_S, 0.32 / HOUR_S, 0.09 / HOUR_S, 0.7 / HOUR_S
    ),
    LearnedNumber(RoomNumber.HEAT_HELD, 6.0, 4.0, 9.0, 2.4, 15.0),
)


class FakeRoomDesk:
    """kept: what is set up, as the fake shop keeps it."""

    def __init__(
        self,
        rooms: Callable[[], list[Room]],
        set_up: Callable[[Part], list[SetUp]],
        keep: Callable[[Part, str, Mapping[str, object] | None, str], SetUp],
        board: Callable[[], Board],
        clock: Clock,
    ) -> None:
        self._rooms, self._set_up, self._keep, self._board, self._clock = rooms, set_up, keep, board, clock
        self.in_file: dict[str, RoomFittings] = {}
        self.asked: list[WhatIf] = []

    def fittings(self) -> dict[int, RoomFittings]:
        return fittings_of_rooms(self._rooms(), self.in_file, self._set_up(Part.ROOMS))

    def kept(self, room_id: int) -> RoomKept:
        room = self._room(room_id)
        said = next((each for each in self._set_up(Part.ROOMS) if each.name == str(room_id)), None)
        return RoomKept(room, self.fittings()[room_id], said, room.name in self.in_file)

    def keep(self, room_id: int, fittings: RoomFittings, hand: str) -> SetUp:
        self._room(room_id)
        body = fittings.model_dump(mode="json", exclude_defaults=True)
        return self._keep(Part.ROOMS, str(room_id), body, hand)

    def take_back(self, room_id: int, hand: str) -> None:
        self._room(room_id)
        self._keep(Part.ROOMS, str(room_id), None, hand)

    def learned(self) -> list[LearnedRoom]:
        now = self._clock.now()
        return [
            LearnedRoom(
                room,
                NUMBERS,
                288 if n == 0 else 0,
                now - timedelta(days=6) if n == 0 else None,
                n == 0,
                True,
                (1e-4, 8e-5, 1.2e-4) if n == 0 else None,
            )
            for n, room in enumerate(self._rooms())
        ]

    def what_if(self, asked: WhatIf) -> WhatThen:
        self.asked.append(asked)
        room, now = self._room(asked.room_id), self._clock.now()
        fittings = self.fittings()[room.id]
        learned = next(each for each in self.learned() if each.room.id == room.id)
        if fittings.volume_m3 is None:
            return WhatThen(asked, room, now, (Missing.VOLUME,), learned=learned)
        damper, later_s = _effect(asked)
        until = now + timedelta(hours=12)
        return WhatThen(
            asked,
            room,
            now,
            moulds=tuple(
                _then(mould.id, mould.name, mould.next_coat, mould.due_at, later_s)
                for mould in self._board().moulds
                if mould.room.id == room.id and mould.coats_given
            ),
            more=self._more(asked),
            air=tuple(_air(now + timedelta(minutes=30 * i), damper * min(i, 6) / 6.0) for i in range(25)),
            looked_until=until,
            assumed=(Assumed.COATS_UNDER,) if asked.more else (),
            learned=learned,
        )

    def _more(self, asked: WhatIf) -> MoreThen | None:
        more = asked.more
        if more is None:
            return None
        like = next((m for m in self._board().moulds if m.id == more.like), None)
        if more.like is not None and like is None:
            raise NotFound(
                "mould_unknown",
                say("There is no mould number {mould_id} that hangs.", mould_id=more.like),
                say("Choose one that does."),
                "like",
            )
        due = more.at + timedelta(hours=4)
        kinds = [step.kind for step in (like or self._board().moulds[0]).recipe.coats]
        coat = min(more.coat or (like.coats_given + 1 if like else 1), len(kinds))
        name = like.name if like else more.recipe or ""
        quarter = timedelta(minutes=15)
        return MoreThen(name, more.number, coat, kinds[coat - 1], more.at, due, due - quarter, due + quarter)

    def _room(self, room_id: int) -> Room:
        found = next((room for room in self._rooms() if room.id == room_id), None)
        if found is None:
            raise NotFound(
                "room_unknown",
                say("There is no room number {room_id}.", room_id=room_id),
                say("Choose one of the list."),
                "room_id",
            )
        return found


def _effect(asked: WhatIf) -> tuple[float, float]:
    """How much damper, and how much later."""
    number = asked.more.number if asked.more else 0
    on = [s.runs is not Runs.OFF for s in (asked.dehumidifier, asked.heater) if s]
    on += [asked.fan.on] if asked.fan else []
    on += [True] if asked.airing else []
    halves = sum(-1 if each else 1 for each in on)
    return 0.01 * number + 0.05 * halves, 600.0 * number + 1800.0 * halves


def _then(mould_id: int, name: str, coat: int | None, due: datetime | None, later_s: float) -> MouldThen:
    if due is None:
        return MouldThen(mould_id, name, coat, None, None, None, None)
    then, quarter = due + timedelta(seconds=later_s), timedelta(seconds=0.3 * abs(later_s))
    return MouldThen(mould_id, name, coat, due, then, then - quarter, then + quarter)


def _air(at: datetime, damper: float) -> AirThen:
    humidity = 0.52 + damper
    doubt = 0.3 * abs(damper)
    return AirThen(
        at, 294.2, 0.52, 294.2 - damper, humidity, 294.2 - damper, 294.2, humidity - doubt, humidity + doubt
    )
