"""The rooms: what stands in them, what their readings taught, and what if something is changed there."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from service.clock import Clock
from service.errors import NotFound, Unavailable
from service.records.recipes import Recipe
from service.records.set_up import Part, SetUp
from service.records.shop_facts import Room
from service.records.store import Records
from service.room.keeper import Keeper
from service.room.room_fittings import RoomFittings, fittings_of_rooms, fittings_set_up
from service.room.room_teacher import RoomTeacher
from service.room.room_views import LearnedRoom
from service.room.views import Board
from service.room.what_if import Scene, what_then
from service.room.what_if_views import WhatIf, WhatThen
from service.voice import say

WAITS_S = 15.0
"""So long a question waits for the one before it: two at once would hold up the board."""


@dataclass(frozen=True)
class RoomKept:
    """What is known of what stands in a room. said: as it was set up in the browser. in_file: site.toml tells of it."""

    room: Room
    fittings: RoomFittings
    said: SetUp | None
    in_file: bool


class RoomDesk:
    """in_file: the fittings of site.toml, by the room's name. board: as of the last look. recipe: by its name."""

    def __init__(
        self,
        records: Records,
        keeper: Keeper,
        clock: Clock,
        in_file: Mapping[str, RoomFittings],
        board: Callable[[], Board],
        recipe: Callable[[str], Recipe],
    ) -> None:
        self._records, self._keeper, self._clock, self._in_file = records, keeper, clock, in_file
        self._board, self._recipe = board, recipe
        self.teacher = RoomTeacher(records, keeper, self.fittings, keeper.outdoor_air)
        self._asking = threading.Lock()

    def fittings(self) -> dict[int, RoomFittings]:
        """Of every room, by number."""
        return fittings_of_rooms(self._records.rooms(), self._in_file, self._records.set_up(Part.ROOMS))

    def kept(self, room_id: int) -> RoomKept:
        """What stands in a room, and who said so. Raises NotFound."""
        room = self._room(room_id)
        said = {int(each.name): each for each in self._records.set_up(Part.ROOMS) if each.name.isdecimal()}
        readable = fittings_set_up([said[room_id]] if room_id in said else [])
        return RoomKept(
            room,
            self.fittings()[room_id],
            said[room_id] if readable else None,
            room.name in self._in_file,
        )

    def keep(self, room_id: int, fittings: RoomFittings, hand: str) -> SetUp:
        """Say what stands in a room from now on. Raises NotFound."""
        self._room(room_id)
        body = fittings.model_dump(mode="json", exclude_defaults=True)
        return self._records.keep_set_up(Part.ROOMS, str(room_id), body, hand)

    def take_back(self, room_id: int, hand: str) -> None:
        """What site.toml says of it holds again, if anything. Raises NotFound."""
        self._room(room_id)
        self._records.keep_set_up(Part.ROOMS, str(room_id), None, hand)

    def learned(self) -> list[LearnedRoom]:
        """What each room taught, as far as that is worked out."""
        return self.teacher.learned(self._clock.now())

    def work_out(self) -> None:
        """Learn of the rooms whose knowledge is old: for a tick of its own."""
        self.teacher.work_out(self._clock.now())

    def what_if(self, asked: WhatIf) -> WhatThen:
        """Reckon what comes of it. Nothing is recorded, and no look waits: one question at a time, some seconds each.

        Raises NotFound for a room, mould or recipe that is not there, BadInput for what cannot be, Unavailable while
        too many ask.
        """
        room = self._room(asked.room_id)
        if not self._asking.acquire(timeout=WAITS_S):
            raise Unavailable(
                "what_if_busy",
                say("Another question is being reckoned."),
                say("Ask again in a moment."),
            )
        try:
            return self._answer(asked, room)
        finally:
            self._asking.release()

    def _answer(self, asked: WhatIf, room: Room) -> WhatThen:
        now, board = self._clock.now(), self._board()
        belief = self.teacher.belief(room, now)
        scene = Scene(
            room=self._keeper.in_room(room, now),
            fittings=self.fittings()[room.id],
            belief=belief,
            now=now,
            board={mould.id: mould for mould in board.moulds},
            others={p.mould_id: p for p in self._keeper.hanging()},
            recipes=self._recipe,
            parameters=self._keeper.parameters,
            outside=self.teacher.outdoors(now),
        )
        learned = next(each for each in self.learned() if each.room.id == room.id)
        return replace(what_then(asked, scene), learned=learned)

    def _room(self, room_id: int) -> Room:
        found = next((room for room in self._records.rooms() if room.id == room_id), None)
        if found is None:
            raise NotFound(
                "room_unknown",
                say("There is no room number {room_id}.", room_id=room_id),
                say("Choose one of the list."),
                "room_id",
            )
        return found
