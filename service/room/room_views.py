"""What the readings taught of a room, as screens show it. SI, aware UTC instants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.learning.room import RoomNumber
from service.records.shop_facts import Room

ROOM_AIR = "room"
"""What is to be learned anew, as `LearnAnewBody.effect` names it; `of`: the room's number."""


@dataclass(frozen=True, slots=True)
class LearnedNumber:
    """One number of a room with its 10 and 90 %, now and before anything was heard. 1/s, or multipliers."""

    kind: RoomNumber
    likely: float
    low: float
    high: float
    at_first_low: float
    at_first_high: float


@dataclass(frozen=True, slots=True)
class LearnedRoom:
    """What a room taught. half_hours: of how many it was measured; since when. outdoors: whether they were known.

    load_kg_s: what else gives water to it, with its 10 and 90 %. sized: its volume was told.
    learned_anew_at: since when only newer readings count.
    """

    room: Room
    numbers: tuple[LearnedNumber, ...]
    half_hours: int
    since: datetime | None
    outdoors: bool
    sized: bool
    load_kg_s: tuple[float, float, float] | None = None
    learned_anew_at: datetime | None = None
