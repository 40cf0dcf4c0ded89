"""What stands in a room and changes its air: its size, heater, dehumidifier, fans, open tanks and people.

Nothing of it is required. SI floats; `machines` is the same as the balance of the room takes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from enum import StrEnum
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from service.drying.dehumidifier import USUAL_FROST_K, Dehumidifier, Rated, can_be_rated
from service.drying.room_balance import Heater, Machines
from service.drying.room_loads import Tanks
from service.errors import BadInput
from service.listed import capital
from service.records.plain import spelling
from service.records.set_up import SetUp
from service.records.shop_facts import Room
from service.voice import later, say

MOST_POINTS = 6
SMALLEST_M3, LARGEST_M3 = 5.0, 50_000.0
Volume = Annotated[float, Field(ge=SMALLEST_M3, le=LARGEST_M3)]
Changes = Annotated[float, Field(ge=0.01, le=60)]
Power = Annotated[float, Field(gt=0, le=200e3)]
Temperature = Annotated[float, Field(ge=273.15, le=318.15)]
Humidity = Annotated[float, Field(ge=0.2, le=0.95)]
Water = Annotated[float, Field(gt=0, le=2000 / 86400)]
Speed = Annotated[float, Field(ge=0.05, le=10)]
Area = Annotated[float, Field(ge=0, le=200)]
HOUR_S = 3600.0


class Runs(StrEnum):
    """How a heater or dehumidifier is set."""

    OFF = "off"
    ON = "on"
    HOLDS = "holds"  # by its thermostat or humidistat


RUNS_WORDS = {Runs.OFF: later("off"), Runs.ON: later("on all the time"), Runs.HOLDS: later("as it is set")}


class RatedPoint(BaseModel):
    """So much water in such air, as plate or manual tell."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    temperature_k: Temperature
    humidity: Humidity
    water_kg_s: Water

    @model_validator(mode="after")
    def _tells_a_size(self) -> Self:
        if not can_be_rated(self.temperature_k, self.humidity):
            raise BadInput(
                "rating_too_dry",
                say("In air so cold and dry hardly any dehumidifier takes out water."),
                say("Give what it takes in warmer or damper air, such as 20 °C and 60 %."),
                "points",
            )
        return self


class RoomFittings(BaseModel):
    """What is known of a room. None, empty and off: nobody told, or there is none.

    air_changes_an_hour: as somebody measured or reckons it; otherwise learned. fan_m_s: the air at the moulds while the
    fan is on. tank_m2: of all open slurry and water. people: at work there in working hours.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    volume_m3: Volume | None = None
    air_changes_an_hour: Changes | None = None
    heater_w: Power | None = None
    heater: Runs = Runs.OFF
    heater_set_k: Temperature | None = None
    dehumidifier_points: tuple[RatedPoint, ...] = Field(default=(), max_length=MOST_POINTS)
    dehumidifier_w: Power | None = None
    dehumidifier: Runs = Runs.OFF
    dehumidifier_set: Humidity | None = None
    dehumidifier_frost_k: Temperature = USUAL_FROST_K
    fan_m_s: Speed | None = None
    fan_on: bool = False
    tank_m2: Area = 0.0
    people: Annotated[int, Field(ge=0, le=50)] = 0

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if self.heater is not Runs.OFF and self.heater_w is None:
            raise _lacks(say("The heater's power is not said."), say("Give it in watts."), "heater_w")
        if self.heater is Runs.HOLDS and self.heater_set_k is None:
            raise _lacks(
                say("The heater is to hold a temperature, and none is said."),
                say("Give it, or say that the heater is on all the time."),
                "heater_set_k",
            )
        if self.dehumidifier is not Runs.OFF and not self.dehumidifier_points:
            raise _lacks(
                say("Nobody said how much water the dehumidifier takes."),
                say("Give one point of its plate: temperature, humidity and water a day."),
                "points",
            )
        if self.dehumidifier is Runs.HOLDS and self.dehumidifier_set is None:
            raise _lacks(
                say("The dehumidifier is to hold a humidity, and none is said."),
                say("Give it, or say that it is on all the time."),
                "dehumidifier_set",
            )
        if self.fan_on and self.fan_m_s is None:
            raise _lacks(
                say("Nobody said how fast the air moves at the moulds with the fan on."),
                say("Give it, such as 1 m/s or 200 ft/min."),
                "fan_m_s",
            )
        return self

    @property
    def air_changes_1_s(self) -> float | None:
        return None if self.air_changes_an_hour is None else self.air_changes_an_hour / HOUR_S

    @property
    def tells_anything(self) -> bool:
        return self != RoomFittings()

    def machines(self, speed_m_s: float) -> Machines:
        """As they are set, in air that moves so fast."""
        return Machines(
            self._heater(),
            self._dehumidifier() if self.dehumidifier is not Runs.OFF else None,
            self.dehumidifier_set if self.dehumidifier is Runs.HOLDS else None,
            Tanks(self.tank_m2) if self.tank_m2 else None,
            speed_m_s,
        )

    def _heater(self) -> Heater | None:
        if self.heater is Runs.OFF or self.heater_w is None:
            return None
        return Heater(self.heater_w, self.heater_set_k if self.heater is Runs.HOLDS else None)

    def _dehumidifier(self) -> Dehumidifier:
        rated = tuple(Rated(p.temperature_k, p.humidity, p.water_kg_s) for p in self.dehumidifier_points)
        return Dehumidifier(rated, self.dehumidifier_w, self.dehumidifier_frost_k)


CALLED = {
    "volume_m3": later("the volume"),
    "air_changes_an_hour": later("how often the air is renewed"),
    "heater_w": later("the heater's power"),
    "heater_set_k": later("the temperature it holds"),
    "dehumidifier_points": later("what the dehumidifier takes"),
    "dehumidifier_w": later("the dehumidifier's power"),
    "dehumidifier_set": later("the humidity it holds"),
    "dehumidifier_frost_k": later("the temperature below which it stands"),
    "fan_m_s": later("the air's speed with the fan on"),
    "tank_m2": later("the open faces of tanks"),
    "people": later("how many work there"),
}


def checked(said: Mapping[str, Any]) -> RoomFittings:
    """What is said of a room, in SI. Raises BadInput naming the field."""
    try:
        return RoomFittings.model_validate(said)
    except ValidationError as error:
        problem = error.errors()[0]
        cause = problem.get("ctx", {}).get("error")
        if isinstance(cause, BadInput):
            raise cause from error
        field = str(problem["loc"][0]) if problem["loc"] else ""
        raise BadInput(
            "fitting_wrong",
            say(
                "{what}: that is more or less than can be in a shell room.", what=capital(say(CALLED[field]))
            ),
            say("Check the number and its unit."),
            field,
        ) from error


def _lacks(message: str, todo: str, field: str) -> BadInput:
    return BadInput("fitting_incomplete", message, todo, field)


def fittings_set_up(said: Iterable[SetUp]) -> dict[int, RoomFittings]:
    """By the rooms' numbers. What another coatbell kept and cannot be read is left out."""
    found: dict[int, RoomFittings] = {}
    for each in said:
        known = {key: value for key, value in (each.body or {}).items() if key in RoomFittings.model_fields}
        with suppress(ValidationError, BadInput, ValueError):
            found[int(each.name)] = RoomFittings.model_validate(known)
    return found


def fittings_of_rooms(
    rooms: Iterable[Room], in_file: Mapping[str, RoomFittings], said: Iterable[SetUp]
) -> dict[int, RoomFittings]:
    """Of every room: as set up in the browser, else as the file says, else nothing. in_file: by the room's name."""
    here = fittings_set_up(said)
    named = {spelling(name): fittings for name, fittings in in_file.items()}
    return {room.id: here.get(room.id) or named.get(spelling(room.name)) or RoomFittings() for room in rooms}
