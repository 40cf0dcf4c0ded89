"""Recipes: the ordered coats for a class of work. Read from TOML with units, kept as SI."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from service.records.plain import Name

LONGEST_WAIT_S = 90 * 86400.0


class CoatKind(StrEnum):
    PRIME = "prime"
    BACKUP = "backup"
    SEAL = "seal"


class Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class CoatStep(Part):
    """A dip. The waits count from this dip to the next step.

    Limits lie far outside any shell there is, and within what the drying can be worked out for.
    """

    step: Literal["coat"] = "coat"
    kind: CoatKind
    tank: Name = Field(min_length=1, max_length=60)
    slurry: str = ""
    stucco: str = ""
    thickness_m: float = Field(ge=1e-5, le=0.02)
    porosity: float = Field(default=0.29, ge=0.01, le=0.95)
    dry_density_kg_m3: float = Field(default=1650.0, ge=50, le=20_000)
    immersion_s: float = Field(default=15.0, ge=0, le=600)
    ready_saturation: float = Field(default=0.35, ge=0.01, le=0.99)
    least_wait_s: float = Field(default=0.0, ge=0, le=LONGEST_WAIT_S)
    longest_wait_s: float | None = Field(default=None, gt=0, le=LONGEST_WAIT_S)
    pre_wet: bool = False


class WireStep(Part):
    """Reinforcement wire, set on the dry coat before it; the next dip must follow."""

    step: Literal["reinforcement wire"] = "reinforcement wire"
    where: str = ""


class FinalDryStep(Part):
    """The wait until the whole shell is dry enough to dewax. `water_limit` is kg water a kg dry shell."""

    step: Literal["final dry"] = "final dry"
    water_limit: float = Field(default=0.02, ge=1e-4, lt=1)
    least_wait_s: float = Field(default=24 * 3600.0, ge=0, le=LONGEST_WAIT_S)


class AirLimits(Part):
    """What the room should be like while coats of this kind are on."""

    lowest_temperature_k: float | None = None
    highest_temperature_k: float | None = None
    lowest_humidity: float | None = None
    highest_humidity: float | None = None
    largest_swing_k: float | None = None


class Recipe(Part):
    """What a mould is asked for. Steps end with exactly one final dry; a wire step follows a coat."""

    name: str = Field(min_length=1, max_length=60, pattern=r"^[a-z0-9][a-z0-9-]*$")
    title: Name = Field(min_length=1, max_length=80)
    for_work: str = ""
    steps: tuple[CoatStep | WireStep | FinalDryStep, ...]
    prime_air: AirLimits = AirLimits()
    backup_air: AirLimits = AirLimits()

    @property
    def coats(self) -> tuple[CoatStep, ...]:
        return tuple(s for s in self.steps if isinstance(s, CoatStep))

    def air_for(self, kind: CoatKind) -> AirLimits:
        """What the room should be like while a coat of this kind is the newest."""
        return self.prime_air if kind is CoatKind.PRIME else self.backup_air

    @property
    def final_dry(self) -> FinalDryStep:
        return next(s for s in self.steps if isinstance(s, FinalDryStep))

    def wires_after(self, coat: int) -> bool:
        """Whether reinforcement wire is asked for on coat number `coat` (from 1)."""
        return coat in self.wire_coats

    @property
    def wire_coats(self) -> tuple[int, ...]:
        """The coats (from 1) on which reinforcement wire is asked for."""
        given, found = 0, []
        for step in self.steps:
            if isinstance(step, CoatStep):
                given += 1
            elif isinstance(step, WireStep):
                found.append(given)
        return tuple(found)
