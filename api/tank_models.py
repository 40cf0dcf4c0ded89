"""Slurry tanks and their checks, as JSON."""

from __future__ import annotations

from datetime import datetime

from pydantic import Field, ValidationError

from api.models import EXAMPLE_TIME, Density, Out, Temperature, Time, Told, WaterMass, example
from api.problem_words import told
from service.local_time import seconds_between
from service.records.facts import Fact, TankCheckBody
from service.records.plain import Name
from service.room.views import TankNow

CHECK = {
    "number": 31,
    "at": EXAMPLE_TIME,
    "hand": "bench 2",
    "flow_s": 24.0,
    "temperature_k": 293.6,
    "density_kg_m3": 1650.0,
    "ph": 9.6,
    "water_added_kg": 0.4,
    "made_new": False,
    "text": "",
}


class TankCheckIn(Told):
    """What a slurry tank was found to be, and what was put in. One value at least, or a remark, is given."""

    model_config = example(
        {
            "tank": "grey",
            "flow": "24 s",
            "temperature": "20.4 degC",
            "density": "1.65 g/cm3",
            "ph": 9.6,
            "water_added": "0.4 kg",
            "hand": "bench 2",
        }
    )
    tank: Name = Field(min_length=1, max_length=60)
    flow: Time | None = None
    temperature: Temperature | None = None
    density: Density | None = None
    ph: float | None = Field(default=None, ge=0, le=14)
    water_added: WaterMass | None = None
    made_new: bool = False
    text: str = Field(default="", max_length=500)

    def body(self) -> TankCheckBody:
        """Raises BadInput for what cannot be."""
        try:
            return TankCheckBody(
                tank=self.tank,
                flow_s=self.flow,
                temperature_k=self.temperature,
                density_kg_m3=self.density,
                ph=self.ph,
                water_added_kg=self.water_added,
                made_new=self.made_new,
                text=self.text,
            )
        except ValidationError as error:
            raise told(error.errors()[0]) from error


class TankCheckOut(Out):
    """A check of a tank that holds."""

    model_config = example(CHECK)
    number: int
    at: datetime
    hand: str
    flow_s: float | None
    temperature_k: float | None
    density_kg_m3: float | None
    ph: float | None
    water_added_kg: float | None
    made_new: bool
    text: str


class TankOut(Out):
    """A tank that recipes name, dips came from or that was checked. `checks`: the newest first, twenty at most."""

    model_config = example({"name": "grey", "last": CHECK, "age_s": 11_400.0, "checks": [CHECK]})
    name: str
    last: TankCheckOut | None
    age_s: float | None = Field(description="how long ago it was last checked; null: never")
    checks: list[TankCheckOut]


MOST_CHECKS = 20


def tank_out(tank: TankNow, now: datetime) -> TankOut:
    checks = [_check_out(fact) for fact in tank.checks[:MOST_CHECKS]]
    age_s = seconds_between(tank.last.at, now) if tank.last else None
    return TankOut(name=tank.name, last=checks[0] if checks else None, age_s=age_s, checks=checks)


def _check_out(fact: Fact) -> TankCheckOut:
    assert isinstance(fact.body, TankCheckBody)
    said = fact.body.model_dump(exclude={"kind", "tank"})
    return TankCheckOut(number=fact.number, at=fact.at, hand=fact.hand, **said)
