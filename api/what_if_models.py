"""What if, as JSON: what is asked, and what comes of it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated

from pydantic import AwareDatetime, Field

from api.models import EXAMPLE_TIME, In, Length, Out, example
from api.what_if_form import LONGEST_AIRING_S, MOST_AIRING
from service.learning.room import RoomNumber
from service.records.recipes import CoatKind
from service.room.room_fittings import Runs
from service.room.room_views import LearnedRoom
from service.room.what_if_views import (
    MOST_MORE,
    Aired,
    Assumed,
    FanSwitched,
    HangMore,
    Missing,
    Outside,
    Switched,
    WhatIf,
    WhatThen,
)
from service.units import Fraction, SecondsS, TemperatureK

FURTHEST = timedelta(days=30)
At = AwareDatetime | None


class HangMoreIn(In):
    """So many moulds, just dipped, hung up `at` a time (left out: now): like a mould that hangs, or by a recipe."""

    number: int = Field(ge=1, le=MOST_MORE)
    like: int | None = None
    recipe: str | None = Field(default=None, max_length=200)
    coat: int | None = Field(default=None, ge=1, le=60)
    at: At = None
    height: Length = 0.4
    width: Length = 0.3


class SwitchedIn(In):
    """How it is set `at` a time: "off", "on" all the time, or "holds" what it is set to."""

    runs: Runs
    at: At = None


class FanIn(In):
    """On or off, `at` a time."""

    on: bool
    at: At = None


class AiringIn(In):
    """A door open `at` a time, `lasts` so long: so many `times` the usual air."""

    times: float = Field(ge=0, le=MOST_AIRING)
    lasts: Annotated[SecondsS, Field(gt=0, le=LONGEST_AIRING_S)] = 3600.0
    at: At = None


class OutsideIn(In):
    """The air outside."""

    temperature: Annotated[TemperatureK, Field(ge=230, le=325)]
    humidity: Annotated[Fraction, Field(ge=0, le=1)]


class WhatIfIn(In):
    """What somebody thinks of doing in a room. Nothing is recorded."""

    model_config = example(
        {
            "room_id": 1,
            "hang_more": {"number": 4, "like": 3, "at": EXAMPLE_TIME},
            "dehumidifier": {"runs": "on", "at": EXAMPLE_TIME},
        }
    )
    room_id: int
    hang_more: HangMoreIn | None = None
    heater: SwitchedIn | None = None
    dehumidifier: SwitchedIn | None = None
    fan: FanIn | None = None
    airing: AiringIn | None = None
    outside: OutsideIn | None = None

    def asked(self, now: datetime) -> WhatIf:
        """A time that is left out, or past, is now."""
        more, aired = self.hang_more, self.airing
        return WhatIf(
            self.room_id,
            HangMore(
                more.number, _from(more.at, now), more.like, more.recipe, more.coat, more.height, more.width
            )
            if more
            else None,
            _switched(self.heater, now),
            _switched(self.dehumidifier, now),
            FanSwitched(_from(self.fan.at, now), self.fan.on) if self.fan else None,
            Aired(_from(aired.at, now), aired.times, aired.lasts) if aired else None,
            Outside(self.outside.temperature, self.outside.humidity) if self.outside else None,
        )


def _from(at: datetime | None, now: datetime) -> datetime:
    """From now on; what lies beyond all that is looked at may as well begin at its end."""
    return now if at is None else min(max(at, now), now + FURTHEST)


def _switched(told: SwitchedIn | None, now: datetime) -> Switched | None:
    return Switched(_from(told.at, now), told.runs) if told else None


class MouldThenOut(Out):
    """A mould's due hour as things are and then; null: later than was looked. `coat` null: dewax."""

    mould_id: int
    name: str
    coat: int | None
    due_now: datetime | None
    due_then: datetime | None
    earliest: datetime | None
    latest: datetime | None


class MoreThenOut(Out):
    """The moulds hung besides: when they are ready for what comes after `coat`."""

    like: str
    number: int
    coat: int
    kind: CoatKind
    hung_at: datetime
    due_at: datetime | None
    earliest: datetime | None
    latest: datetime | None


class AirThenOut(Out):
    """The air as forecast (`_now`), and then, with its 10 and 90 %."""

    at: datetime
    temperature_now_k: float
    humidity_now: float
    temperature_k: float
    humidity: float
    temperature_low_k: float
    temperature_high_k: float
    humidity_low: float
    humidity_high: float


class RoomNumberOut(Out):
    """One number of a room: "air changes" and "follows outdoors" in 1/s, the others multipliers."""

    kind: RoomNumber
    likely: float
    low: float
    high: float
    at_first_low: float
    at_first_high: float


class LearnedRoomOut(Out):
    """What a room's readings taught. `half_hours`: of how many; 0: nothing, all is as assumed."""

    model_config = example(
        {
            "room_id": 1,
            "room": "Shell room",
            "half_hours": 288,
            "since": EXAMPLE_TIME,
            "outdoors": False,
            "sized": True,
            "load_kg_s": None,
            "learned_anew_at": None,
            "numbers": [
                {
                    "kind": "air changes",
                    "likely": 0.00023,
                    "low": 0.00016,
                    "high": 0.00033,
                    "at_first_low": 0.00008,
                    "at_first_high": 0.00062,
                }
            ],
        }
    )
    room_id: int
    room: str
    half_hours: int
    since: datetime | None
    outdoors: bool
    sized: bool
    load_kg_s: tuple[float, float, float] | None
    learned_anew_at: datetime | None
    numbers: list[RoomNumberOut]


class WhatThenOut(Out):
    """What comes of it. `missing`: what must be told first; `assumed`: what was neither measured nor learned.

    `looked_until`: as far as was reckoned; `cut_short`: for want of time.
    """

    model_config = example(
        {
            "room_id": 1,
            "at": EXAMPLE_TIME,
            "missing": [],
            "assumed": ["coats under"],
            "moulds": [
                {
                    "mould_id": 3,
                    "name": "Heron",
                    "coat": 5,
                    "due_now": EXAMPLE_TIME,
                    "due_then": EXAMPLE_TIME,
                    "earliest": EXAMPLE_TIME,
                    "latest": EXAMPLE_TIME,
                }
            ],
            "more": None,
            "air": [],
            "looked_until": EXAMPLE_TIME,
            "cut_short": False,
            "learned": None,
        }
    )
    room_id: int
    at: datetime
    missing: list[Missing]
    assumed: list[Assumed]
    moulds: list[MouldThenOut]
    more: MoreThenOut | None
    air: list[AirThenOut]
    looked_until: datetime | None
    cut_short: bool
    learned: LearnedRoomOut | None


def learned_room_out(learned: LearnedRoom) -> LearnedRoomOut:
    told = {name: getattr(learned, name) for name in ("half_hours", "since", "outdoors", "sized")}
    more = {name: getattr(learned, name) for name in ("load_kg_s", "learned_anew_at", "numbers")}
    return LearnedRoomOut.model_validate(
        {**told, **more, "room_id": learned.room.id, "room": learned.room.name}
    )


def what_then_out(then: WhatThen) -> WhatThenOut:
    told = {
        name: getattr(then, name)
        for name in ("at", "missing", "assumed", "moulds", "more", "air", "looked_until", "cut_short")
    }
    learned = learned_room_out(then.learned) if then.learned else None
    return WhatThenOut.model_validate({**told, "room_id": then.room.id, "learned": learned})
