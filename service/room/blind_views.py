"""What is known about a time in which coatbell did not run, as plain frozen data: SI floats, aware UTC instants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.records.shop_facts import Room


@dataclass(frozen=True, slots=True)
class AirThen:
    """Measured air at one moment: kelvin, a share of 1, and how fast the temperature moved (K/s)."""

    at: datetime
    temperature_k: float
    humidity: float
    rise_k_s: float = 0.0


@dataclass(frozen=True, slots=True)
class RoomAcross:
    """A room's air just before, first measured after, and now; None where nothing was measured.

    coldest_k, warmest_k: what it may have come to meanwhile; None where one side is not known. hanging: the names of
    the moulds there.
    """

    room: Room
    before: AirThen | None
    after: AirThen | None
    now: AirThen | None
    coldest_k: float | None
    warmest_k: float | None
    hanging: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MouldAcross:
    """A mould that dried meanwhile: when it is due by the estimate, and from when to when that may really be.

    None: not within the forecast.
    """

    id: int
    name: str
    for_dewax: bool
    due_at: datetime | None
    least: datetime | None
    most: datetime | None


@dataclass(frozen=True, slots=True)
class Across:
    """What a time without readings means: rooms, and the moulds whose estimates rest on assumed air for it."""

    rooms: tuple[RoomAcross, ...]
    moulds: tuple[MouldAcross, ...]
