"""What if more is hung, or something is switched: what is asked, and what comes of it. SI, aware UTC instants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.records.recipes import CoatKind
from service.records.shop_facts import Room
from service.room.room_fittings import Runs
from service.room.room_views import LearnedRoom

MOST_MORE = 40
"""More moulds than that are hung in no shell room at once."""


@dataclass(frozen=True, slots=True)
class HangMore:
    """So many moulds, just dipped, hung up at a time.

    like: a mould that hangs somewhere, by number: each is as large; or else a recipe by its name, with one face of this
    size. coat: the one that was just laid, from 1; None: the next of the mould it is like, or of the recipe its first.
    """

    number: int
    at: datetime
    like: int | None = None
    recipe: str | None = None
    coat: int | None = None
    height_m: float = 0.4
    width_m: float = 0.3


@dataclass(frozen=True, slots=True)
class Switched:
    """A heater or dehumidifier is set otherwise from a time on."""

    at: datetime
    runs: Runs


@dataclass(frozen=True, slots=True)
class FanSwitched:
    """The fan goes on or off at a time."""

    at: datetime
    on: bool


@dataclass(frozen=True, slots=True)
class Aired:
    """A door is opened at a time, for so long: so many times the usual air comes through."""

    at: datetime
    times: float
    for_s: float


@dataclass(frozen=True, slots=True)
class Outside:
    """The air outside, as somebody says it is."""

    temperature_k: float
    humidity: float


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What somebody thinks of doing in a room. All None: as it is."""

    room_id: int
    more: HangMore | None = None
    heater: Switched | None = None
    dehumidifier: Switched | None = None
    fan: FanSwitched | None = None
    airing: Aired | None = None
    outside: Outside | None = None

    @property
    def changes_anything(self) -> bool:
        return any((self.more, self.heater, self.dehumidifier, self.fan, self.airing))


class Missing(StrEnum):
    """What must be told before anything can be said."""

    VOLUME = "volume"
    AIR = "air"  # no sensor told the room's air
    HEATER = "heater"
    DEHUMIDIFIER = "dehumidifier"
    FAN = "fan"


class Assumed(StrEnum):
    """What was neither measured nor learned nor told."""

    AIR_CHANGES = "air changes"
    HEAT = "heat"
    OUTSIDE = "outside"
    COATS_UNDER = "coats under"
    SIZE = "size"
    STILL_AIR = "still air"
    OLD_AIR = "old air"


@dataclass(frozen=True, slots=True)
class MouldThen:
    """A mould that hangs there: when it is due as things are, and then; None: not as far as was looked.

    earliest, latest: the same where the room answers as weakly or as strongly as one in ten. coat None: dewax.
    """

    mould_id: int
    name: str
    coat: int | None
    due_now: datetime | None
    due_then: datetime | None
    earliest: datetime | None
    latest: datetime | None

    @property
    def later_s(self) -> float | None:
        """By how much; negative: sooner."""
        if self.due_now is None or self.due_then is None:
            return None
        return (self.due_then - self.due_now).total_seconds()


@dataclass(frozen=True, slots=True)
class MoreThen:
    """The moulds that are hung besides: when each is ready for what comes next. coat: the one just laid."""

    like: str
    number: int
    coat: int
    kind: CoatKind
    hung_at: datetime
    due_at: datetime | None
    earliest: datetime | None
    latest: datetime | None


@dataclass(frozen=True, slots=True)
class AirThen:
    """The air as forecast, and then, with its 10 and 90 % by how the room may answer."""

    at: datetime
    temperature_now_k: float
    humidity_now: float
    temperature_k: float
    humidity: float
    temperature_low_k: float
    temperature_high_k: float
    humidity_low: float
    humidity_high: float


@dataclass(frozen=True, slots=True)
class WhatThen:
    """What comes of it. missing: what must be told first; then there is nothing else.

    looked_until: as far as was looked; cut_short: for want of time, and not because all are due by then.
    assumed: what was neither measured nor learned. learned: what is thought of the room.
    """

    asked: WhatIf
    room: Room
    at: datetime
    missing: tuple[Missing, ...] = ()
    moulds: tuple[MouldThen, ...] = ()
    more: MoreThen | None = None
    air: tuple[AirThen, ...] = ()
    looked_until: datetime | None = None
    cut_short: bool = False
    assumed: tuple[Assumed, ...] = ()
    learned: LearnedRoom | None = None
