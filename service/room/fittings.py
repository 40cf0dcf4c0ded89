"""The tanks and hooks that a shop set up: what was said of them, checked. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import islice
from typing import Annotated, NamedTuple, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from service.errors import BadInput
from service.records.facts import TankCheckBody
from service.records.plain import by_number, spelling
from service.records.set_up import SetUp
from service.room.views import MouldNow, Within
from service.voice import say

MOST_AT_ONCE = 200
RUN = re.compile(r"(?P<before>.*?)(?P<first>\d{1,4})\s*[-\u2013]\s*(?P<last>\d{1,4})")
Flow = Annotated[float, Field(gt=0, le=600)]
Temperature = Annotated[float, Field(ge=263.15, le=333.15)]
Density = Annotated[float, Field(ge=500, le=5000)]
Acidity = Annotated[float, Field(ge=0, le=14)]


class Fitting(BaseModel):
    """Something of the shop's that a hand sets up."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    note: str = Field(default="", max_length=300)
    out_of_use: bool = False


Fit = TypeVar("Fit", bound=Fitting)


class TankSetUp(Fitting):
    """A slurry tank, and within what it is wanted. None: nothing is wanted there."""

    slurry: str = Field(default="", max_length=100)
    least_flow_s: Flow | None = None
    most_flow_s: Flow | None = None
    least_temperature_k: Temperature | None = None
    most_temperature_k: Temperature | None = None
    least_density_kg_m3: Density | None = None
    most_density_kg_m3: Density | None = None
    least_ph: Acidity | None = None
    most_ph: Acidity | None = None

    @model_validator(mode="after")
    def _the_right_way_round(self) -> Self:
        for name in MEASURED:
            within = self.wanted(name)
            if within.least is not None and within.most is not None and within.least > within.most:
                raise BadInput(
                    "limits_crossed",
                    say("The lower limit is above the upper one."),
                    say("Change one of the two, or leave one empty."),
                    f"most_{name}",
                )
        return self

    def wanted(self, name: str) -> Within:
        """Within what one of `MEASURED` is wanted."""
        return Within(getattr(self, f"least_{name}"), getattr(self, f"most_{name}"))


MEASURED = ("flow_s", "temperature_k", "density_kg_m3", "ph")
"""What a check of a tank measures, as `TankCheckBody` names it."""


class HookSetUp(Fitting):
    """Where moulds hang. `order`: the place in the list."""

    room_id: int
    order: int = 0


class Hook(NamedTuple):
    """One in use. mould_id: what hangs there now."""

    name: str
    room_id: int
    mould_id: int | None


def tanks_set_up(said: Iterable[SetUp]) -> dict[str, TankSetUp]:
    """By their names. What another coatbell kept and cannot be read is left out."""
    return dict(_readable(said, TankSetUp))


def hooks_set_up(said: Iterable[SetUp]) -> dict[str, HookSetUp]:
    """By their names, in their order. What cannot be read is left out."""
    found = dict(_readable(said, HookSetUp))
    return dict(sorted(found.items(), key=lambda each: (each[1].order, by_number(each[0]))))


def _readable(said: Iterable[SetUp], model: type[Fit]) -> Iterator[tuple[str, Fit]]:
    """A newer coatbell may have kept more: what is not known here is passed over."""
    for each in said:
        known = {key: value for key, value in (each.body or {}).items() if key in model.model_fields}
        with suppress(ValidationError, BadInput):
            yield each.name, model.model_validate(known)


def hooks_now(hooks: dict[str, HookSetUp], moulds: Sequence[MouldNow]) -> list[Hook]:
    """The hooks in use, in their order, with what hangs on each."""
    return [
        Hook(name, hook.room_id, hangs_on(name, hook, moulds))
        for name, hook in hooks.items()
        if not hook.out_of_use
    ]


def hangs_on(name: str, hook: HookSetUp, moulds: Iterable[MouldNow]) -> int | None:
    """The mould that hangs there: by the name it was hung up with, in the same room."""
    there = (m.id for m in moulds if m.room.id == hook.room_id and spelling(m.hook.strip()) == spelling(name))
    return next(there, None)


def tanks_offered(set_up: dict[str, TankSetUp], others: Iterable[str]) -> list[str]:
    """Those that were set up first, then what recipes and dips name; none that is out of use, each once."""
    away = {spelling(name) for name, tank in set_up.items() if tank.out_of_use}
    every = [*sorted(set_up, key=by_number), *others]
    once = {spelling(name): name for name in reversed(every) if spelling(name) not in away}
    return [once[name] for name in dict.fromkeys(map(spelling, every)) if name in once]


def outside(body: TankCheckBody, tank: TankSetUp) -> list[str]:
    """Which of what was measured lies outside what is wanted."""
    return [name for name in MEASURED if not tank.wanted(name).holds(getattr(body, name))]


def names_in(text: str) -> list[str]:
    """Several names at once: ``1-12, door``, or one a line. Raises BadInput for more than can be meant."""
    parts = [part.strip() for part in re.split(r"[,;\n]", text)]
    every = (name for part in parts if part for name in _run(part))
    found = list(islice(every, MOST_AT_ONCE + 1))
    if len(found) > MOST_AT_ONCE:
        raise BadInput(
            "too_many_names",
            say("Those are more than {most} hooks.", most=MOST_AT_ONCE),
            say("Add up to {most} at a time.", most=MOST_AT_ONCE),
            "names",
        )
    once: dict[str, str] = {}
    for name in found:
        once.setdefault(spelling(name), name)
    return list(once.values())


def _run(part: str) -> Iterator[str]:
    """``1-12`` is twelve names; what does not count up is one."""
    run = RUN.fullmatch(part)
    if run is None or int(run["first"]) > int(run["last"]):
        yield part
        return
    yield from (f"{run['before']}{number}" for number in range(int(run["first"]), int(run["last"]) + 1))
