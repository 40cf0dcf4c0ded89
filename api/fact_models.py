"""What happened to a mould, as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated

from pydantic import Field, StringConstraints, model_validator

from api.fact_words import fact_line
from api.models import (
    EXAMPLE_TIME,
    Density,
    Mass,
    Out,
    Temperature,
    Time,
    Told,
    WaterMass,
    example,
)
from api.result_models import CameOut, FailingIn
from api.shop_port import Outcome, Verdict
from service.records.facts import AnyBody, Fact, NoteBody, Problem
from service.records.plain import Name
from service.records.shop_facts import Room, Site

IN_THE_LEDGER = {
    "mass": "mass_kg",
    "flow": "flow_s",
    "temperature": "temperature_k",
    "density": "density_kg_m3",
    "water_added": "water_added_kg",
}
"""How the ledger names what is told with a unit."""


class FactOut(Out):
    """One line of the ledger. `replaces`: the line it corrects or takes back. `digest` chains it to the line before."""

    model_config = example(
        {
            "number": 41,
            "mould_id": 3,
            "at": EXAMPLE_TIME,
            "recorded_at": EXAMPLE_TIME,
            "hand": "bench 1",
            "body": {"kind": "dip", "coat": 3, "coat_kind": "backup", "tank": "grey", "early_reason": None},
            "replaces": None,
            "key": "dip-heron-3-3f9c2a",
            "digest": "9f2c...",
            "says": "Coat 3, backup, dipped from the grey tank",
        }
    )
    number: int
    mould_id: int | None
    at: datetime
    recorded_at: datetime
    hand: str
    body: AnyBody
    replaces: int | None
    key: str | None
    digest: str
    says: str


Reason = Annotated[str, StringConstraints(strip_whitespace=True, max_length=300)]
"""Blanks are no reason."""


class DipIn(Told):
    """A coat given. `coat`: which one you mean, so that two people cannot record the same dip twice.

    It may be left out only where the request carries an Idempotency-Key.

    `early_reason` is asked for when the coat under it is not ready, or its wires are not set.
    """

    model_config = example({"tank": "grey", "coat": 4, "hand": "bench 1", "at": EXAMPLE_TIME})
    tank: Name = Field(min_length=1, max_length=60)
    coat: int | None = Field(default=None, ge=1, le=40)
    early_reason: Reason | None = None


class WiresIn(Told):
    """Reinforcement wire set on the newest coat."""

    model_config = example({"text": "long edges", "hand": "bench 2"})
    text: str = Field(default="", max_length=500)


class CheckIn(Told):
    """What a hand felt; `zone` left out: all over."""

    model_config = example({"verdict": "still damp", "zone": "hollow base", "hand": "bench 1"})
    verdict: Verdict
    zone: str | None = Field(default=None, max_length=60)


class NoteIn(Told):
    """Anything worth remembering. `problem`: something is wrong; with `over`: that it was put right."""

    model_config = example({"text": "small crack at the cup, slurry dabbed on", "hand": "bench 1"})
    text: str = Field(default="", max_length=2000)
    problem: Problem | None = None
    over: bool = False

    @model_validator(mode="after")
    def _says_something(self) -> NoteIn:
        NoteBody(text=self.text, problem=self.problem)
        return self


class WeightIn(Told):
    """The mould on the scale, hook and all as it hangs: its `mass`, or the `scale` whose newest reading is kept."""

    model_config = example({"mass": "14.2 kg", "hand": "bench 1"})
    mass: Mass | None = None
    scale: str | None = Field(default=None, max_length=200)


class EndIn(Told):
    """The mould leaves the shell room."""

    model_config = example({"outcome": "dewaxed", "text": "cup first, no cracks", "hand": "bench 2"})
    outcome: Outcome
    text: str = Field(default="", max_length=2000)


class WithdrawIn(Told):
    """Why it is taken back."""

    model_config = example({"text": "wrong mould", "hand": "bench 1"})
    text: str = Field(default="", max_length=500)


class CorrectIn(Told):
    """Only what is to be changed. `at` left out: the time stays. `failings`: all of them."""

    model_config = example({"tank": "white", "hand": "bench 1"})
    tank: Name | None = Field(default=None, min_length=1, max_length=60)
    early_reason: str | None = Field(default=None, max_length=300)
    text: str | None = Field(default=None, max_length=2000)
    verdict: Verdict | CameOut | None = None
    zone: str | None = Field(default=None, max_length=60)
    mass: Mass | None = None
    outcome: Outcome | None = None
    failings: list[FailingIn] | None = Field(default=None, max_length=12)
    coat: int | None = Field(default=None, ge=1, le=40)
    flow: Time | None = None
    temperature: Temperature | None = None
    density: Density | None = None
    ph: float | None = Field(default=None, ge=0, le=14)
    water_added: WaterMass | None = None
    made_new: bool | None = None

    def changes(self) -> dict[str, object]:
        """The fields that were given, as the ledger names them."""
        given = self.model_dump(exclude_unset=True, exclude={"hand", "at"})
        return {IN_THE_LEDGER.get(name, name): value for name, value in given.items()}


def fact_out(
    fact: Fact, site: Site | None, facts: Sequence[Fact] = (), rooms: Sequence[Room] = ()
) -> FactOut:
    plain = {name: getattr(fact, name) for name in FactOut.model_fields if name != "says"}
    return FactOut.model_validate({**plain, "says": fact_line(fact, site, facts, rooms)})
