"""The case as written: the tables and keys of a case file, checked one by one."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from service.drying.air import STANDARD_PRESSURE_PA, standard_pressure_pa
from service.drying.shell import Pocket, ZoneShape
from service.errors import BadInput
from service.estimate.air_file import Column, humidity_share
from service.listed import listed
from service.records.recipes import LONGEST_WAIT_S, CoatKind
from service.settings import CoatSettings, ParameterSettings, Part, Share
from service.units import (
    DensityKgM3,
    Fraction,
    LengthM,
    MassKg,
    PressurePa,
    SecondsS,
    SpeedMS,
    TemperatureK,
    Units,
)
from service.voice import say

MOST_COATS = 40
MOST_EVIDENCE = 500


class SiteCase(Part):
    """Where: altitude or pressure, not both."""

    altitude_m: LengthM | None = Field(default=None, ge=-500, le=5000, alias="altitude")
    pressure_pa: PressurePa | None = Field(default=None, ge=5e4, le=1.1e5, alias="pressure")

    @model_validator(mode="after")
    def _one_of_them(self) -> Self:
        if self.altitude_m is not None and self.pressure_pa is not None:
            raise BadInput(
                "site_twice", say("both altitude and pressure are given."), say("Keep one of them.")
            )
        return self

    @property
    def here_pa(self) -> float:
        if self.pressure_pa is not None:
            return self.pressure_pa
        return (
            STANDARD_PRESSURE_PA if self.altitude_m is None else float(standard_pressure_pa(self.altitude_m))
        )


class AirCase(Part):
    """The air: constant, from a file, or a file with some of it held constant."""

    temperature_k: TemperatureK | None = Field(default=None, ge=243.15, le=333.15, alias="temperature")
    humidity: Annotated[Fraction, AfterValidator(humidity_share)] | None = None
    speed_m_s: SpeedMS | None = Field(default=None, ge=0, le=30, alias="speed")
    file: str | None = Field(default=None, min_length=1)
    columns: dict[Column, str] = Field(default_factory=dict)
    units: dict[Column, str] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _enough(self) -> Self:
        if self.file is not None:
            return self
        missing = [str(column) for column, value in self.constants.items() if value is None]
        if missing:
            raise BadInput(
                "air_missing",
                say("{keys} missing.", keys=listed(missing)),
                say("Add it, or name a file of air."),
            )
        if self.columns or self.units:
            raise BadInput(
                "air_file_missing",
                say("columns and units are for a file."),
                say("Name the file, or drop them."),
            )
        return self

    @property
    def constants(self) -> dict[Column, float | None]:
        """What holds all the time, SI."""
        return {
            Column.TEMPERATURE: self.temperature_k,
            Column.HUMIDITY: self.humidity,
            Column.SPEED: self.speed_m_s,
        }


class PocketCase(Part):
    """A blind hole or slot."""

    depth_m: LengthM = Field(gt=0, le=3, alias="depth", examples=['"80 mm"'])
    width_m: LengthM = Field(gt=0, le=3, alias="width", examples=['"40 mm"'])
    shape: Literal["round", "slot"] = "round"

    @property
    def hole(self) -> Pocket:
        return Pocket(self.depth_m, self.width_m, self.shape == "round")


class ZoneCase(Part):
    """A part of the mould that dries on its own clock."""

    name: str = Field(default="", max_length=60)
    height_m: LengthM = Field(gt=0, le=5, alias="height", examples=['"0.4 m"'])
    width_m: LengthM = Field(gt=0, le=5, alias="width", examples=['"0.3 m"'])
    pocket: PocketCase | None = None

    @property
    def zone_shape(self) -> ZoneShape:
        return ZoneShape(self.height_m, self.width_m, self.pocket.hole if self.pocket else None)


class CoatCase(Part):
    """A coat, or several alike. What is left out is as [parameters] or the shop's drying.toml say."""

    kind: CoatKind = Field(examples=['"backup"'])
    times: int = Field(default=1, ge=1, le=MOST_COATS)
    thickness_m: LengthM | None = Field(default=None, gt=0, le=0.02, alias="thickness")
    porosity: Share | None = None
    dry_density_kg_m3: DensityKgM3 | None = Field(default=None, gt=0, alias="dry_density")
    immersion_s: SecondsS | None = Field(default=None, ge=0, le=600, alias="immersion")
    ready_saturation: Share | None = None
    least_wait_s: SecondsS = Field(default=0.0, ge=0, le=LONGEST_WAIT_S, alias="least_wait")
    longest_wait_s: SecondsS | None = Field(default=None, gt=0, le=LONGEST_WAIT_S, alias="longest_wait")

    @model_validator(mode="after")
    def _waits_fit(self) -> Self:
        if self.longest_wait_s is not None and self.longest_wait_s < self.least_wait_s:
            raise BadInput(
                "waits_wrong",
                say("it may not wait as long as it must."),
                say("Make longest_wait longer than least_wait."),
            )
        return self


class DippingCase(Part):
    """When coats go on: as soon as the one before is ready, from `first`; or each at its own time.

    then: the coats to come, for which `at` has no time, go on when the one before is ready.
    """

    first: str = "0 h"
    at: tuple[str, ...] | None = None
    then: Literal["when ready"] | None = None

    @model_validator(mode="after")
    def _one_of_them(self) -> Self:
        if self.at is not None and "first" in self.model_fields_set:
            raise BadInput("dipping_twice", say("both first and at are given."), say("Keep one of them."))
        if self.then is not None and not self.at:
            raise BadInput(
                "dipping_then",
                say("then goes on from the times of at, and there are none."),
                say("Give at, or take then out: every coat goes on when it is ready anyway."),
            )
        return self


class EvidenceCase(Part):
    """One thing that was weighed, read or felt, or that befell a coat when the next was laid on it.

    at: since the first dip, or a date. shed, held: the coat's number; that is heard at the next dip. changed: what was
    hung on the mould or taken off, so that weights before and after are not comparable.
    """

    at: str | None = Field(default=None, min_length=1)
    weight_kg: MassKg | None = Field(default=None, gt=0, le=1000, alias="weight")
    face_k: TemperatureK | None = Field(default=None, ge=233.15, le=373.15, alias="face")
    felt: Literal["still damp", "dry"] | None = None
    shed: int | None = Field(default=None, ge=1, le=MOST_COATS)
    held: int | None = Field(default=None, ge=1, le=MOST_COATS)
    changed: str | None = Field(default=None, min_length=1, max_length=200)
    zone: str | None = Field(default=None, min_length=1, max_length=60)

    @property
    def at_a_dip(self) -> bool:
        return self.shed is not None or self.held is not None

    @model_validator(mode="after")
    def _one_thing(self) -> Self:
        said = [name for name in EVIDENCE if getattr(self, name) is not None]
        if len(said) != 1:
            raise BadInput(
                "evidence_one",
                say("it says {number} things.", number=len(said)) if said else say("it says nothing."),
                say("Give each of weight, face, felt, shed, held or changed an [[evidence]] of its own."),
            )
        return self

    @model_validator(mode="after")
    def _when_and_where(self) -> Self:
        if self.at_a_dip == (self.at is not None):
            raise BadInput(
                "evidence_time",
                say("it has a time, though it is heard at the next dip.")
                if self.at
                else say("it has no time."),
                say("Take `at` out.") if self.at else say("Add `at`, such as “7 h” after the first dip."),
            )
        if self.zone is not None and self.face_k is None and self.felt is None:
            raise BadInput(
                "evidence_zone",
                say("a zone is for face and felt only."),
                say("Take it out: a weight or a dip is the whole mould's."),
            )
        return self


EVIDENCE = ("weight_kg", "face_k", "felt", "shed", "held", "changed")


class CaseParameters(ParameterSettings, CoatSettings):
    """Every number of drying.toml, to be set for this case only."""


class CaseFile(Part):
    """A case as written."""

    title: str = Field(default="", max_length=200)
    units: Units = Units.METRIC
    recipe: str | None = Field(default=None, min_length=1)
    site: SiteCase = SiteCase()
    air: AirCase
    zones: tuple[ZoneCase, ...] = Field(min_length=1, max_length=12)
    coats: tuple[CoatCase, ...] | None = Field(default=None, min_length=1, max_length=MOST_COATS)
    dipping: DippingCase = DippingCase()
    evidence: tuple[EvidenceCase, ...] = Field(default=(), max_length=MOST_EVIDENCE)
    parameters: CaseParameters = CaseParameters()

    @model_validator(mode="after")
    def _coats_or_recipe(self) -> Self:
        if (self.coats is None) == (self.recipe is None):
            wrong = (
                say("there are no coats") if self.coats is None else say("both a recipe and coats are given")
            )
            raise BadInput("coats_or_recipe", f"{wrong}.", say("Give either [[coats]] or a recipe."))
        return self
