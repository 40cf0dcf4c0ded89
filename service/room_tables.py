"""The tables [[rooms]] of site.toml: what stands in each room, with units."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from service.drying.dehumidifier import USUAL_FROST_K
from service.errors import BadInput
from service.room.room_fittings import LARGEST_M3, MOST_POINTS, SMALLEST_M3, RoomFittings, Runs, checked
from service.units import AreaM2, Fraction, LengthM, PowerW, SpeedMS, TemperatureK, VolumeM3, WaterFlowKgS
from service.voice import say

Length = Annotated[LengthM, Field(gt=0, le=300)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class RatedTable(_Table):
    """One point of the dehumidifier's plate or manual."""

    temperature_k: TemperatureK = Field(alias="temperature")
    humidity: Fraction
    water_kg_s: WaterFlowKgS = Field(alias="water")


class RoomTable(_Table):
    """One room, by its name on the board. Everything else may be left out."""

    name: str = Field(min_length=1, max_length=60, examples=['"Shell room"'])
    volume_m3: VolumeM3 | None = Field(default=None, ge=SMALLEST_M3, le=LARGEST_M3, alias="volume")
    size_m: tuple[Length, Length, Length] | None = Field(default=None, alias="size")
    air_changes_an_hour: float | None = None
    heater_w: PowerW | None = Field(default=None, alias="heater_power")
    heater: Runs = Runs.OFF
    heater_set_k: TemperatureK | None = Field(default=None, alias="heater_set")
    dehumidifier_points: tuple[RatedTable, ...] = Field(default=(), max_length=MOST_POINTS)
    dehumidifier_w: PowerW | None = Field(default=None, alias="dehumidifier_power")
    dehumidifier: Runs = Runs.OFF
    dehumidifier_set: Fraction | None = None
    dehumidifier_frost_k: TemperatureK = Field(default=USUAL_FROST_K, alias="dehumidifier_frost")
    fan_m_s: SpeedMS | None = Field(default=None, alias="fan_speed")
    fan_on: bool = False
    tank_m2: AreaM2 = Field(default=0.0, alias="open_tanks")
    people: int = 0

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        if self.volume_m3 is not None and self.size_m is not None:
            raise BadInput(
                "size_twice",
                say("Both volume and size are given."),
                say("Leave one of them out."),
            )
        self.fittings()
        return self

    def fittings(self) -> RoomFittings:
        """The same in SI. Raises BadInput where something is missing or cannot be."""
        said: dict[str, Any] = self.model_dump(exclude={"name", "size_m"})
        if self.size_m is not None:
            said["volume_m3"] = self.size_m[0] * self.size_m[1] * self.size_m[2]
        return checked(said)
