"""What the shop is: site, rooms, and which sensor hangs where."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.units import Units
from service.voice import Language


@dataclass(frozen=True, slots=True)
class Site:
    """The shop. `time_zone` is an IANA name; `altitude_m` sets the pressure where no barometer hangs."""

    name: str
    altitude_m: float
    time_zone: str
    units: Units
    day_starts_hour: int = 7
    day_ends_hour: int = 19
    language: Language = Language.ENGLISH


@dataclass(frozen=True, slots=True)
class Room:
    """A room where shells hang. `still_air_m_s` is used where no air-speed sensor hangs (assumed)."""

    id: int
    name: str
    still_air_m_s: float = 0.2


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sensor that was heard. `room_id` is None until somebody says where it hangs."""

    name: str
    room_id: int | None
    first_heard: datetime
    last_good: datetime | None
