"""The shop and its rooms, as JSON."""

from __future__ import annotations

from pydantic import Field

from api.models import Height, In, Out, Speed, example
from service.records.shop_facts import Site
from service.units import Units
from service.voice import Language

SITE = {
    "name": "Saltmarsh Bronze",
    "altitude_m": 4.0,
    "time_zone": "Europe/London",
    "units": "metric",
    "day_starts_hour": 7,
    "day_ends_hour": 19,
    "language": "en",
}
ROOM = {"id": 1, "name": "Shell room", "still_air_m_s": 0.2}


class SiteOut(Out):
    """The shop."""

    model_config = example(SITE)
    name: str
    altitude_m: float
    time_zone: str
    units: Units
    day_starts_hour: int
    day_ends_hour: int
    language: Language


class SiteIn(In):
    """The shop. `altitude` sets the air pressure where no barometer hangs."""

    model_config = example(
        {"name": "Saltmarsh Bronze", "altitude": "4 m", "time_zone": "Europe/London", "units": "metric"}
    )
    name: str = Field(min_length=1, max_length=80)
    altitude: Height
    time_zone: str
    units: Units = Units.METRIC
    day_starts_hour: int = 7
    day_ends_hour: int = 19
    language: Language = Language.ENGLISH

    def site(self) -> Site:
        hours = (self.day_starts_hour, self.day_ends_hour)
        return Site(self.name, self.altitude, self.time_zone, self.units, *hours, self.language)


class RoomOut(Out):
    """A room where shells hang."""

    model_config = example(ROOM)
    id: int
    name: str
    still_air_m_s: float


class RoomIn(In):
    """A room. `still_air`: the air speed where no sensor measures it."""

    model_config = example({"name": "Shell room", "still_air": "0.2 m/s"})
    name: str = Field(min_length=1, max_length=60)
    still_air: Speed = 0.2
