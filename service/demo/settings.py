"""demo.toml: the sheds, sensors and hands of the foundry that does not exist, with units."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from service.demo.hand import Habits
from service.demo.shed import Hours, Shed
from service.demo.truth import Truth
from service.errors import BadInput
from service.reading import Quantity
from service.records.shop_facts import Site
from service.room.room_fittings import RoomFittings, Runs, checked
from service.settings import Part, config_file, read_toml
from service.units import (
    Fraction,
    LengthM,
    MassKg,
    PowerW,
    SecondsS,
    SpeedMS,
    TemperatureDifferenceK,
    TemperatureK,
    Units,
    WaterFlowKgS,
)

DAY_S = 86400.0
RATED_K, RATED_HUMIDITY = 300.15, 0.6
Hour = Annotated[float, Field(ge=0, le=24)]
Seconds = Annotated[SecondsS, Field(ge=0, le=30 * DAY_S)]
Length = Annotated[LengthM, Field(gt=0, le=200)]
Speed = Annotated[SpeedMS, Field(ge=0, le=20)]


class StorySettings(Part):
    """When the demo begins. `weather_day` counts whole days into the weather file, `begins_hour` is local."""

    past_days: int = Field(default=8, ge=1, le=14)
    weather_day: int = Field(default=14, ge=0)
    begins_hour: Annotated[float, Field(ge=0, lt=24)] = 9.25


class SiteSettings(Part):
    name: str = Field(min_length=1, max_length=60)
    altitude_m: LengthM = Field(ge=-500, le=6000, alias="altitude")
    time_zone: str
    units: Units = Units.METRIC
    day_starts_hour: int = Field(default=7, ge=0, le=23)
    day_ends_hour: int = Field(default=19, ge=1, le=24)

    def site(self) -> Site:
        return Site(**self.model_dump())


class HandSettings(Part):
    soonest_s: Seconds = Field(default=300.0, alias="soonest")
    latest_s: Seconds = Field(default=2400.0, alias="latest")
    always: bool = False
    hanging: int = Field(default=12, ge=0, le=40)
    first_coat_until: int = Field(default=12, ge=1, le=24)
    dewax_from: int = Field(default=16, ge=0, le=23)
    left_for_visitor: tuple[str, ...] = ()
    patience_s: Seconds = Field(default=DAY_S, alias="patience")
    walk_s: Seconds = Field(default=900.0, alias="walk")
    felt_every: int = Field(default=0, ge=0)
    weighed_every: int = Field(default=0, ge=0)
    read_every: int = Field(default=0, ge=0)

    def habits(self) -> Habits:
        values = self.model_dump(exclude={"left_for_visitor"})
        return Habits(**values, left=frozenset(self.left_for_visitor))


Multiplier = Annotated[float, Field(ge=0.2, le=5)]


class TruthSettings(Part):
    """What the demo's shells really do, as multiples of the usual numbers: `service.demo.truth.Truth`."""

    draught: Multiplier = 1.0
    drying: Multiplier = 1.0
    thickness: Multiplier = 1.0
    sheltered_hooks: tuple[str, ...] = ()
    sheltered: Multiplier = 1.0
    uneven: Fraction = Field(default=0.0, ge=0, le=0.5)

    def truth(self) -> Truth:
        values = self.model_dump(exclude={"sheltered_hooks"})
        return Truth(**values, sheltered_hooks=frozenset(self.sheltered_hooks))


class ShedSettings(Part):
    """A shed. No `heated_to`: unheated."""

    room: str = Field(min_length=1, max_length=60)
    lag_s: Seconds = Field(gt=0, alias="lag")
    size_m: tuple[Length, Length, Length] = Field(alias="size")
    renewal_s: Seconds = Field(gt=0, alias="renewal")
    wind_doubles_m_s: Annotated[SpeedMS, Field(gt=0, le=100)] = Field(alias="wind_doubles")
    given_off_kg: MassKg = Field(ge=0, le=1000, alias="given_off")
    heated_to_k: TemperatureK | None = Field(default=None, alias="heated_to")
    heated_at_night_k: TemperatureK | None = Field(default=None, alias="heated_at_night")
    heater_lift_k: TemperatureDifferenceK = Field(default=0.0, ge=0, le=60, alias="heater_lift")
    fan_m_s: Speed = Field(alias="fan")
    still_m_s: Speed = Field(alias="still")
    fan_on_hour: Hour
    fan_off_hour: Hour
    heater_w: PowerW | None = Field(default=None, gt=0, alias="heater_power")
    dehumidifier_kg_s: WaterFlowKgS | None = Field(default=None, gt=0, alias="dehumidifier")

    def fittings(self) -> RoomFittings:
        """What its people told coatbell of it. The dehumidifier is rated at 27 degC and 60 %, and stands."""
        length, width, height = self.size_m
        heated = self.heater_w is not None and self.heated_to_k is not None
        rated = {"temperature_k": RATED_K, "humidity": RATED_HUMIDITY, "water_kg_s": self.dehumidifier_kg_s}
        return checked(
            {
                "volume_m3": length * width * height,
                "heater_w": self.heater_w,
                "heater": Runs.HOLDS if heated else Runs.OFF,
                "heater_set_k": self.heated_to_k if heated else None,
                "dehumidifier_points": [rated] if self.dehumidifier_kg_s else [],
                "fan_m_s": self.fan_m_s,
            }
        )

    def shed(self, day: Hours) -> Shed:
        length, width, height = self.size_m
        return Shed(
            lag_s=self.lag_s,
            volume_m3=length * width * height,
            renewal_s=self.renewal_s,
            wind_doubles_m_s=self.wind_doubles_m_s,
            given_off_kg_s=self.given_off_kg / DAY_S,
            fan_m_s=self.fan_m_s,
            still_m_s=self.still_m_s,
            fan_hours=Hours(self.fan_on_hour, self.fan_off_hour),
            set_point_k=self.heated_to_k,
            night_set_point_k=self.heated_at_night_k,
            day_hours=day,
            heater_lift_k=self.heater_lift_k,
        )


class SensorSettings(Part):
    """A pretended sensor: `service.demo.instruments.Instrument` says what each key does."""

    sensor: str = Field(min_length=1, max_length=60)
    room: str
    topics: tuple[str, ...] = Field(min_length=1)
    quantities: tuple[Quantity, ...] = Field(min_length=1, alias="measures")
    offset_k: TemperatureDifferenceK = Field(default=0.0, ge=-5, le=5, alias="offset")
    offset_humidity: Fraction = Field(default=0.0, ge=-0.2, le=0.2)
    noise_k: TemperatureDifferenceK = Field(default=0.03, ge=0, le=1, alias="noise")
    noise_humidity: Fraction = Field(default=0.002, ge=0, le=0.05)
    silent_every_s: Seconds = Field(default=0.0, alias="silent_every")
    silent_for_s: Seconds = Field(default=0.0, alias="silent_for")
    broken_every: int = Field(default=0, ge=0)


class DemoSettings(Part):
    """demo.toml"""

    story: StorySettings = StorySettings()
    site: SiteSettings
    hand: HandSettings = HandSettings()
    truth: TruthSettings = TruthSettings()
    sheds: tuple[ShedSettings, ...] = Field(min_length=1)
    sensors: tuple[SensorSettings, ...] = ()

    @model_validator(mode="after")
    def _check_rooms(self) -> Self:
        rooms = [shed.room for shed in self.sheds]
        lost = next((s for s in self.sensors if s.room not in rooms), None)
        if lost:
            raise BadInput(
                "room_unknown",
                f"The sensor {lost.sensor} hangs in “{lost.room}”, which is none of the sheds.",
                f"It can hang in: {', '.join(rooms)}.",
            )
        return self


def read_demo_settings(folder: Path | None) -> DemoSettings:
    """The demo's settings: shipped, or the folder's own demo.toml. Raises BadInput in words."""
    return read_toml(config_file(folder, "demo.toml"), DemoSettings)
