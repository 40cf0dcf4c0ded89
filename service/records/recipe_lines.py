"""A recipe file as it is written: tables and keys, values with units."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from service.records.plain import Name
from service.records.recipes import LONGEST_WAIT_S, AirLimits, CoatStep, FinalDryStep, WireStep
from service.units import DensityKgM3, Fraction, LengthM, SecondsS, TemperatureDifferenceK, TemperatureK


class Lines(BaseModel):
    """A table of a recipe file."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class CoatLines(Lines, CoatStep):
    """[[steps]] step = "coat" """

    thickness_m: LengthM = Field(ge=1e-5, le=0.02, alias="thickness", examples=['"1.1 mm"'])
    porosity: Fraction = Field(default=0.29, ge=0.01, le=0.95)
    dry_density_kg_m3: DensityKgM3 = Field(default=1650.0, ge=50, le=20_000, alias="dry_density")
    immersion_s: SecondsS = Field(default=15.0, ge=0, le=600, alias="immersion")
    ready_saturation: Fraction = Field(default=0.35, ge=0.01, le=0.99)
    least_wait_s: SecondsS = Field(default=0.0, ge=0, le=LONGEST_WAIT_S, alias="least_wait")
    longest_wait_s: SecondsS | None = Field(default=None, gt=0, le=LONGEST_WAIT_S, alias="longest_wait")


class WireLines(Lines, WireStep):
    """[[steps]] step = "reinforcement wire" """


class FinalDryLines(Lines, FinalDryStep):
    """[[steps]] step = "final dry" """

    water_limit: Fraction = Field(default=0.02, ge=1e-4, lt=1)
    least_wait_s: SecondsS = Field(default=24 * 3600.0, ge=0, le=LONGEST_WAIT_S, alias="least_wait")


class AirLines(Lines, AirLimits):
    """[prime_air] and [backup_air]"""

    lowest_temperature_k: TemperatureK | None = Field(default=None, alias="lowest_temperature")
    highest_temperature_k: TemperatureK | None = Field(default=None, alias="highest_temperature")
    lowest_humidity: Fraction | None = Field(default=None, ge=0, le=1)
    highest_humidity: Fraction | None = Field(default=None, ge=0, le=1)
    largest_swing_k: TemperatureDifferenceK | None = Field(default=None, gt=0, alias="largest_swing")


StepLines = Annotated[CoatLines | WireLines | FinalDryLines, Field(discriminator="step")]


class RecipeFile(Lines):
    """A recipe file: the steps in order, and the air they ask for."""

    name: str = Field(
        min_length=1, max_length=60, pattern=r"^[a-z0-9][a-z0-9-]*$", examples=['"small-wading-bird"']
    )
    title: Name = Field(min_length=1, max_length=80, examples=['"Small wading bird"'])
    for_work: str = ""
    steps: tuple[StepLines, ...] = Field(min_length=1)
    prime_air: AirLines = AirLines()
    backup_air: AirLines = AirLines()
