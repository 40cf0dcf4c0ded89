"""Gathers what a time without readings means for every room and mould; see `blind` for how."""

from __future__ import annotations

from datetime import datetime, timedelta

from service.reading import Quantity
from service.room.blind import TREND_S, Span, air_then, extremes_k, moulds_across
from service.room.blind_views import Across, AirThen, RoomAcross
from service.room.keeper import MOMENT, Keeper
from service.room.views import Board, MouldNow, RoomNow, Stage

NEAR = timedelta(seconds=TREND_S)
BEATS = timedelta(seconds=10)
"""It was still heard for some seconds after the last beat that is known of; and after it, before the first beat."""


def look_across(keeper: Keeper, since: datetime, until: datetime, board: Board) -> Across:
    """What coatbell knows about the time from `since` to `until`, in which it did not run. Takes up to some seconds."""
    rooms = tuple(_room(keeper, room, since, until, board) for room in board.rooms)
    spans = {
        r.room.id: Span(
            since.timestamp(), r.after.at.timestamp() if r.after else float("inf"), board.at.timestamp()
        )
        for r in rooms
    }
    due = {mould.id: _likely_at(mould, board.at) for mould in board.moulds}
    hung = [one for one in keeper.hung(board.at) if one.p.mould_id in due and one.p.body.room_id in spans]
    return Across(rooms, tuple(moulds_across(hung, spans, due, keeper.parameters)))


def _likely_at(mould: MouldNow, now: datetime) -> datetime | None:
    """What the estimates in other air are held against: these know no doubt but the air's."""
    about = mould.about_at
    return about if about is not None and about > now else mould.due_at


def _room(keeper: Keeper, room: RoomNow, since: datetime, until: datetime, board: Board) -> RoomAcross:
    between = since + min(BEATS, (until - since) / 2)
    before = _air(keeper, room.room.id, since - NEAR, between, first=False)
    after = _air(keeper, room.room.id, between + MOMENT, board.at, first=True)
    now = _air(keeper, room.room.id, between + MOMENT, board.at, first=False)
    here = [m.name for m in board.moulds if m.room.id == room.room.id and m.stage is not Stage.ENDED]
    return RoomAcross(room.room, before, after, now, *extremes_k(before, after), tuple(here))


def _air(keeper: Keeper, room_id: int, since: datetime, until: datetime, first: bool) -> AirThen | None:
    temperature, humidity = (
        keeper.measured(room_id, quantity, since, until)
        for quantity in (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)
    )
    return air_then(temperature, humidity, first)
