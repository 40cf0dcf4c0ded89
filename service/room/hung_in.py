"""The air that each mould hung in, over the rooms it hung in one after the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.estimate import FORECAST_S
from service.room.progress import Progress
from service.room.room_view import RoomState


def air_along(rooms: Sequence[tuple[datetime, int]], airs: Mapping[int, RoomAir | None]) -> RoomAir | None:
    """The air of one room after the other, each from its instant on.

    In a room that was never measured the last good air of the room before goes on; where there was none before,
    that of the room after stands in.
    """
    found: RoomAir | None = None
    for at, room_id in rooms:
        air = airs[room_id]
        if found is None:
            found = air
        else:
            found = (
                found.held_from(at.timestamp()) if air is None else found.from_then_on(at.timestamp(), air)
            )
    return found


def by_air(
    state: RoomState, here: Sequence[Progress], airs: Mapping[int, RoomAir | None], now: datetime
) -> list[tuple[RoomState, list[Progress]]]:
    """The moulds of a room, those in the same air together, with the room as it is for them."""
    if state.air is not None:
        return [(state, list(here))]
    return [(_with_air_of_before(state, p, airs, now), [p]) for p in here]


def _with_air_of_before(
    state: RoomState, p: Progress, airs: Mapping[int, RoomAir | None], now: datetime
) -> RoomState:
    """A room never measured, as it is for a mould that brought the air of another along."""
    air = air_along(p.rooms, airs)
    if air is None:
        return state
    return replace(state, air=air, to_come=forecast_air(air, now.timestamp(), FORECAST_S))
