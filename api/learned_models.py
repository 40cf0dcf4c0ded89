"""What the shop taught and what was heard of a mould, as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum

from pydantic import Field

from api.models import EXAMPLE_TIME, FaceTemperature, In, Out, Told, example
from service import words
from service.learning.effect import EffectKind
from service.records.shop_facts import Site
from service.room.learned_views import HeardKind, HeardNow, LearnedEffect
from service.room.room_views import ROOM_AIR
from service.words import Names

UNITS = {HeardKind.WEIGHT: "kg", HeardKind.FACE: "K", HeardKind.FELT: "", HeardKind.REDIP: ""}


class LearnedOut(Out):
    """One thing the shop taught: how many times the usual number holds here, with its 10 and 90 %.

    `of`: empty of the whole shop; else the room's number and the hook (`2/3`), or the recipe and kind of coat
    (`wader/backup`). `at_first_low`, `at_first_high`: before anything was heard. `pieces`: how many pieces of evidence
    of each kind bear on it.
    """

    model_config = example(
        {
            "kind": "draught",
            "of": "2/3",
            "likely": 1.4,
            "low": 1.2,
            "high": 1.7,
            "at_first_low": 0.64,
            "at_first_high": 1.57,
            "pieces": {"weight": 12, "felt": 5},
            "moulds": 6,
            "mould_ids": [3, 5, 8, 9, 12, 13],
            "newest_at": EXAMPLE_TIME,
            "learned_anew_at": None,
            "says": "Hook 3 in Lean-to: water leaves 1.4 times as fast as the tables say (between 1.2 and 1.7).",
        }
    )
    kind: EffectKind
    of: str
    likely: float
    low: float
    high: float
    at_first_low: float
    at_first_high: float
    pieces: dict[HeardKind, int]
    moulds: int
    mould_ids: list[int]
    newest_at: datetime | None
    learned_anew_at: datetime | None
    says: str


class HeardOut(Out):
    """One piece of evidence of a mould, and what it was held against.

    `said`: kg since the weighing of `against_at` (the one before, of the first since a dip the one after), K, or 1 for
    dry and held and 0 for still damp and shed. `expected` and `spread` (a standard deviation) in the same `unit`; of a
    hand or a redip the chance, 0 to 1, of what was said. `number`: of its record; null for what a sensor on the mould
    told. `left_out`: too far off to be believed.
    """

    model_config = example(
        {
            "kind": "weight",
            "number": 52,
            "at": EXAMPLE_TIME,
            "against_at": "2025-12-11T12:30:00Z",
            "zone": None,
            "coat": 4,
            "unit": "kg",
            "said": -0.038,
            "expected": -0.038,
            "spread": 0.0055,
            "surprise": 0.0,
            "left_out": False,
            "says": "Weighed 14:20: lost 38 g since 12:30. Expected: lost 31 g to 45 g. As expected.",
        }
    )
    kind: HeardKind
    number: int | None
    at: datetime
    against_at: datetime | None
    zone: str | None
    coat: int | None
    unit: str
    said: float
    expected: float
    spread: float
    surprise: float
    left_out: bool
    says: str


class LearnedAnew(StrEnum):
    """What can be learned anew: the kinds of effects, and how a room answers."""

    DRAUGHT = EffectKind.DRAUGHT.value
    DRYING = EffectKind.DRYING.value
    THICKNESS = EffectKind.THICKNESS.value
    SOAKING = EffectKind.SOAKING.value
    POCKET = EffectKind.POCKET.value
    ROOM = ROOM_AIR


class LearnAnewIn(In):
    """What is to be learned anew: one thing, its `kind` as `effect` and its `of`, or with neither all of it.

    `text`: why.

    `effect` "room" with the room's number as `of`: how a room answers.
    """

    model_config = example({"effect": "draught", "of": "2/3", "text": "the fan was moved", "hand": "bench 1"})
    effect: LearnedAnew | None = None
    of: str = Field(default="", max_length=300)
    text: str = Field(default="", max_length=500)
    hand: str = Field(default="", max_length=60)


class FaceIn(Told):
    """How warm a face is, as an infrared gun shows it. `zone` may be left out where the mould has one place only."""

    model_config = example({"temperature": "18.4 degC", "zone": "hollow base", "hand": "bench 1"})
    temperature: FaceTemperature
    zone: str | None = Field(default=None, max_length=60)


class SensorOnIn(Told):
    """A scale the mould hangs from, or a probe in its `zone`; with `off`: no longer. It comes off any other mould."""

    model_config = example({"sensor": "probe 2", "zone": "hollow base", "hand": "bench 1"})
    sensor: str = Field(min_length=1, max_length=200)
    zone: str | None = Field(default=None, max_length=60)
    off: bool = False


class OnMouldOut(Out):
    """A scale or probe that is on a mould now. `zone`: where a probe sits."""

    model_config = example(
        {"sensor": "probe 2", "mould_id": 3, "mould": "Heron", "zone": "hollow base", "since": EXAMPLE_TIME}
    )
    sensor: str
    mould_id: int
    mould: str
    zone: str | None
    since: datetime


def learned_out(effect: LearnedEffect, names: Names) -> LearnedOut:
    told = {name: getattr(effect, name) for name in LearnedOut.model_fields if name not in ("pieces", "says")}
    return LearnedOut.model_validate(
        {**told, "pieces": dict(effect.pieces), "says": words.learned_line(effect, names)}
    )


def heard_out(heard: Sequence[HeardNow], site: Site | None, now: datetime) -> list[HeardOut]:
    return [_heard_out(each, site, now) for each in heard]


def _heard_out(heard: HeardNow, site: Site | None, now: datetime) -> HeardOut:
    told = {name: getattr(heard, name) for name in HeardOut.model_fields if name not in ("unit", "says")}
    said = words.heard_words(heard, site, now)
    sentences = [f"{part}." for part in (said.said, said.expected) if part]
    says = " ".join([*sentences, said.worth])
    return HeardOut.model_validate({**told, "unit": UNITS[heard.kind], "says": says})
