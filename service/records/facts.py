"""The facts of a mould's life and of the shop, as data that checks itself before it is stored. SI floats, UTC instants.

A fact is never edited. A correction is a new fact that names the one it replaces; `Withdrawn` takes one back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Literal, Protocol, TypeVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

from service.errors import BadInput
from service.records.plain import Name, OneLine, when_told
from service.records.recipes import CoatKind, Recipe
from service.voice import later, say

SMALLEST_M = 1e-3


class Body(BaseModel):
    """What a fact says, beside who, when and about which mould."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def unsaid(value: object) -> bool:
    """Left out of the ledger: so what says no more than it always did stands there as it always did."""
    return not value


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
            "zone_twice",
            say("Two places are called “{twice}”.", twice=twice),
            say("Give each a name of its own."),
            "zones",
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
    from_notebook: bool = False
    """Copied from an older notebook: nothing was measured, and times are as exact as somebody wrote them down."""


NO_TANK = later("a tank not written down")
"""Stands for the tank where an old notebook names none."""


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


class Problem(StrEnum):
    """What can go wrong with a shell while it is made, in the trade's words (common practice, no source)."""

    CRACK = "crack"
    STUCCO_SHED = "stucco shed"
    COAT_LIFTED = "coat lifted"
    WAX_BROKEN = "wax broken"
    DROPPED = "dropped"
    SAGGED = "sagged or bent"
    RUN_OUT = "run-out at dewax"
    OTHER = "something else"


class NoteBody(Body):
    """Anything worth remembering. `problem`: something is wrong; with `over` that it was put right."""

    kind: Literal["note"] = "note"
    text: str = Field(default="", max_length=2000)
    problem: Problem | None = Field(default=None, exclude_if=unsaid)
    over: bool = Field(default=False, exclude_if=unsaid)

    @model_validator(mode="after")
    def _says_something(self) -> NoteBody:
        if not self.text and self.problem is None:
            raise BadInput(
                "note_empty", say("The note is empty."), say("Write what is worth remembering."), "text"
            )
        return self


class WeightBody(Body):
    """The mould on the scale, hook and all as it hangs. `scale`: which one told it; None: somebody read it off."""

    kind: Literal["weight"] = "weight"
    mass_kg: float = Field(gt=0, le=1000)
    scale: str | None = Field(default=None, max_length=200, exclude_if=unsaid)


class FaceBody(Body):
    """How warm a face of the mould was: read off an infrared gun, or off a probe. zone None: the mould has only one."""

    kind: Literal["face"] = "face"
    temperature_k: float = Field(ge=233.15, le=373.15)
    zone: str | None = Field(default=None, max_length=60)


class SensorOnBody(Body):
    """A scale this mould hangs from, or a probe in one of its places, from now on; with `off` no longer."""

    kind: Literal["sensor on"] = "sensor on"
    sensor: Name = Field(min_length=1, max_length=200)
    zone: str | None = Field(default=None, max_length=60)
    off: bool = Field(default=False, exclude_if=unsaid)


class EndedBody(Body):
    """The mould leaves the shell room."""

    kind: Literal["ended"] = "ended"
    outcome: Literal["dewaxed", "failed", "scrapped"]
    text: str = Field(default="", max_length=2000)


class FaultKind(StrEnum):
    """What a failed piece shows, in the trade's words (common practice, no source)."""

    RUN_OUT = "run-out"
    SHELL_OPENED = "shell opened"
    CRACK = "crack"
    FIN = "fin"
    SOFT_SURFACE = "soft surface or shed stucco"
    INCLUSION = "inclusion"
    BULGE = "bulge"
    DEWAX_CRACK = "dewax crack"
    COLD_SHUT = "cold shut or misrun"
    OTHER = "other"


class Failing(Body):
    """One thing that went wrong; where, and in which coat, if that is known."""

    fault: FaultKind
    zone: str | None = Field(default=None, max_length=60)
    coat: int | None = Field(default=None, ge=1, le=40)


class ResultBody(Body):
    """How the piece came out, once it is known. A sound one has no failings, a failed one at least one."""

    kind: Literal["result"] = "result"
    verdict: Literal["sound", "failed"]
    failings: tuple[Failing, ...] = Field(default=(), max_length=12)
    text: str = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _fits(self) -> ResultBody:
        if (self.verdict == "failed") != bool(self.failings):
            raise BadInput(
                "result_unclear",
                say("A failed piece has something that went wrong, and a sound one has not."),
                say("Choose what went wrong, “other” if nothing fits; or choose sound."),
                "failings",
            )
        return self


class PhotoBody(Body):
    """A picture of the mould, shell or piece. The ledger vouches for it: `sha256` is of the file as it is kept."""

    kind: Literal["photo"] = "photo"
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    width_px: int = Field(gt=0)
    height_px: int = Field(gt=0)
    size_bytes: int = Field(gt=0)
    zone: str | None = Field(default=None, max_length=60)
    coat: int | None = Field(default=None, ge=1, le=40)
    text: str = Field(default="", max_length=500)


class TankCheckBody(Body):
    """What a slurry tank was found to be, and what was put in. Of no mould: of the tank."""

    kind: Literal["tank check"] = "tank check"
    tank: Name = Field(min_length=1, max_length=60)
    flow_s: float | None = Field(default=None, gt=0, le=600)
    temperature_k: float | None = Field(default=None, ge=263.15, le=333.15)
    density_kg_m3: float | None = Field(default=None, ge=500, le=5000)
    ph: float | None = Field(default=None, ge=0, le=14)
    water_added_kg: float | None = Field(default=None, gt=0, le=1000)
    made_new: bool = False
    text: str = Field(default="", max_length=500)

    @model_validator(mode="after")
    def _says_something(self) -> TankCheckBody:
        told = self.model_dump(exclude={"kind", "tank"})
        if not any(value is not None and value is not False and value != "" for value in told.values()):
            raise BadInput(
                "tank_check_empty",
                say("Nothing is said of the tank."),
                say("Give one value at least, or a remark."),
                "flow_s",
            )
        return self


class ToldBody(Body):
    """A message that a recipient's service took."""

    kind: Literal["told"] = "told"
    key: str
    alert: str
    title: str
    recipient: str
    attempts: int = Field(ge=1)


class LearnAnewBody(Body):
    """What was learned so far of one thing of the shop counts no more: a hook moved, a slurry changed.

    effect, of: as `service.learning.effect.Effect` names them; effect "" means all that was learned.
    """

    kind: Literal["learn anew"] = "learn anew"
    effect: str = Field(default="", max_length=40)
    of: str = Field(default="", max_length=300)
    text: str = Field(default="", max_length=500)


class WithdrawnBody(Body):
    """The fact named by `replaces` is taken back (undo)."""

    kind: Literal["withdrawn"] = "withdrawn"
    text: str = Field(default="", max_length=500)


AnyBody = Annotated[
    MouldBody
    | DipBody
    | WiresBody
    | CheckBody
    | NoteBody
    | WeightBody
    | FaceBody
    | SensorOnBody
    | EndedBody
    | ResultBody
    | PhotoBody
    | TankCheckBody
    | ToldBody
    | LearnAnewBody
    | WithdrawnBody,
    Field(discriminator="kind"),
]

OF_NO_MOULD = (TankCheckBody, ToldBody, LearnAnewBody)
"""What may stand in the ledger without a mould it is about."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the ledger. `number` counts up over the whole shop; `digest` chains to the line before.

    mould_id: None for what is about no mould, such as a tank.
    """

    number: int
    mould_id: int | None
    at: datetime
    recorded_at: datetime
    hand: str
    body: AnyBody
    replaces: int | None
    key: str | None
    digest: str

    @property
    def mould(self) -> int:
        """The number of its mould. Raises ValueError for a fact that is about none."""
        if self.mould_id is None:
            raise ValueError(f"entry {self.number} is about no mould")
        return self.mould_id


def live(facts: list[Fact]) -> list[Fact]:
    """The facts that hold now, by the time they happened: not replaced, and no withdrawals."""
    gone = {fact.replaces for fact in facts if fact.replaces is not None}
    held = [f for f in facts if f.number not in gone and not isinstance(f.body, WithdrawnBody)]
    return sorted(held, key=lambda f: (f.at, f.number))
