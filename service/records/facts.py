"""The facts of a mould's life, as data that checks itself before it is stored. SI floats, UTC instants.

A fact is never edited. A correction is a new fact that names the one it replaces; `Withdrawn` takes one back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Literal, Protocol, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from service.errors import BadInput
from service.records.plain import Name, OneLine, when_told
from service.records.recipes import CoatKind, Recipe

SMALLEST_M = 1e-3


class Body(BaseModel):
    """What a fact says, beside who, when and about which mould."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ZoneKind(StrEnum):
    OPEN_FACE = "open face"
    FLAT_PANEL = "flat panel"
    POCKET = "pocket"


class Zone(Body):
    """A part of a mould that dries on its own clock. Pocket sizes only for a pocket."""

    name: Name = Field(min_length=1, max_length=60)
    kind: ZoneKind
    height_m: float = Field(ge=SMALLEST_M, le=5)
    width_m: float = Field(ge=SMALLEST_M, le=5)
    depth_m: float | None = Field(default=None, ge=SMALLEST_M, le=3)
    mouth_m: float | None = Field(default=None, ge=SMALLEST_M, le=3)
    slot: bool = False


class Named(Protocol):
    @property
    def name(self) -> str: ...


Places = TypeVar("Places", bound=Sequence[Named])


def must_differ(zones: Places) -> Places:
    """Raise BadInput where two places have one name: nobody could say which of them was felt."""
    names = [zone.name for zone in zones]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise BadInput(
            "zone_twice", f"Two places are called “{twice}”.", "Give each a name of its own.", "zones"
        )
    return zones


class MouldBody(Body):
    """A wax hung up and given a recipe; the recipe is copied so that it stays as it was."""

    kind: Literal["mould"] = "mould"
    name: Name = Field(min_length=1, max_length=60)
    piece: OneLine = Field(default="", max_length=200)
    customer: OneLine = Field(default="", max_length=200)
    height_m: float | None = Field(default=None, ge=SMALLEST_M, le=5)
    width_m: float | None = Field(default=None, ge=SMALLEST_M, le=5)
    wax_mass_kg: float | None = Field(default=None, gt=0, le=500)
    hook: OneLine = Field(default="", max_length=60)
    room_id: int
    wanted_by: datetime | None = None
    zones: Annotated[tuple[Zone, ...], Field(min_length=1, max_length=12), when_told(must_differ)]
    recipe: Recipe


class DipBody(Body):
    """A coat given. `early_reason` is there when it went on before the coat under it was ready."""

    kind: Literal["dip"] = "dip"
    coat: int = Field(ge=1, le=40)
    coat_kind: CoatKind
    tank: Name = Field(min_length=1, max_length=60)
    early_reason: str | None = Field(default=None, max_length=300)


class WiresBody(Body):
    """Reinforcement wire set on the coat that is on now."""

    kind: Literal["wires"] = "wires"
    after_coat: int = Field(ge=1, le=40)
    text: str = Field(default="", max_length=500)


class CheckBody(Body):
    """What a hand felt: still damp, or dry."""

    kind: Literal["check"] = "check"
    verdict: Literal["still damp", "dry"]
    zone: str | None = None


class NoteBody(Body):
    kind: Literal["note"] = "note"
    text: str = Field(min_length=1, max_length=2000)


class WeightBody(Body):
    """The mould on the scale, hook and all as it hangs."""

    kind: Literal["weight"] = "weight"
    mass_kg: float = Field(gt=0, le=1000)


class EndedBody(Body):
    """The mould leaves the shell room."""

    kind: Literal["ended"] = "ended"
    outcome: Literal["dewaxed", "failed", "scrapped"]
    text: str = Field(default="", max_length=2000)


class WithdrawnBody(Body):
    """The fact named by `replaces` is taken back (undo)."""

    kind: Literal["withdrawn"] = "withdrawn"
    text: str = Field(default="", max_length=500)


AnyBody = Annotated[
    MouldBody | DipBody | WiresBody | CheckBody | NoteBody | WeightBody | EndedBody | WithdrawnBody,
    Field(discriminator="kind"),
]


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the ledger. `number` counts up over the whole shop; `digest` chains to the line before."""

    number: int
    mould_id: int
    at: datetime
    recorded_at: datetime
    hand: str
    body: AnyBody
    replaces: int | None
    key: str | None
    digest: str


def live(facts: list[Fact]) -> list[Fact]:
    """The facts that hold now, by the time they happened: not replaced, and no withdrawals."""
    gone = {fact.replaces for fact in facts if fact.replaces is not None}
    held = [f for f in facts if f.number not in gone and not isinstance(f.body, WithdrawnBody)]
    return sorted(held, key=lambda f: (f.at, f.number))
