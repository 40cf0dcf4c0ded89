"""A reading, and the one small door through which sensors hand it over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol


class Quantity(StrEnum):
    """What a sensor measures. The SI unit of `Reading.value` stands beside each."""

    AIR_TEMPERATURE = "air_temperature"  # K
    RELATIVE_HUMIDITY = "relative_humidity"  # 0..1
    AIR_SPEED = "air_speed"  # m/s
    PRESSURE = "pressure"  # Pa
    SURFACE_TEMPERATURE = "surface_temperature"  # K
    WEIGHT = "weight"  # kg


OF_AIR = frozenset(
    {Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY, Quantity.AIR_SPEED, Quantity.PRESSURE}
)
"""What says something of a room; a scale and a probe on a shell need none."""


class Flag(StrEnum):
    """What is odd about a reading that was kept all the same."""

    CLAMPED = "clamped"  # 100 to 105 % RH brought back to 100 %
    SENSOR_CLOCK_WRONG = "sensor_clock_wrong"  # stamped with our time of receipt instead


class Reason(StrEnum):
    """Why a message was not taken as a reading."""

    UNKNOWN_TOPIC = "unknown_topic"
    UNREADABLE = "unreadable"  # not a number, not JSON, field missing, too long
    NOT_FINITE = "not_finite"
    SENTINEL = "sentinel"  # a value sensors send when they are broken
    OUT_OF_RANGE = "out_of_range"
    TOO_FAST = "too_fast"  # moved faster than air can
    RETAINED = "retained"  # the broker's memory, not the sensor
    DUPLICATE = "duplicate"
    OUT_OF_ORDER = "out_of_order"
    OVERFLOW = "overflow"  # came faster than it could be stored


LATE_INTERVALS = 5.0
"""A sensor that was silent for longer than so many of its own intervals counts as fallen silent."""
GAPS_KEPT, GAPS_NEEDED = 10, 3
"""Its interval is the second longest of its last gaps: of so many, once there are so many."""
UNKNOWN_INTERVAL_S = 300.0
"""Its interval until then."""


class Freshness(StrEnum):
    """How long ago a sensor last sent something good, against how often it sends."""

    FRESH = "fresh"
    LATE = "late"
    STALE = "stale"
    NEVER = "never"  # nothing good was ever heard


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured value, in SI. `at` is when it holds (UTC), `received_at` when it reached us."""

    sensor: str
    quantity: Quantity
    value: float
    at: datetime
    received_at: datetime
    flag: Flag | None = None


@dataclass(frozen=True, slots=True)
class Rejected:
    """A message that was not taken, kept with the reason so that it can be looked at."""

    topic: str
    payload: str
    received_at: datetime
    reason: Reason
    words: str
    sensor: str | None = None
    quantity: Quantity | None = None


class Intake(Protocol):
    """Where sensors hand over. Both calls only queue: they never block and never raise."""

    def accept(self, reading: Reading) -> None: ...

    def reject(self, rejected: Rejected) -> None: ...

    def broker(self, connected: bool, at: datetime, words: str) -> None:
        """The broker was reached or lost."""
