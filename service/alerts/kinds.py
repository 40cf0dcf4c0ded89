"""The kinds of message, and what is particular to each."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """What a message is about; the value is what `configs/alerts.toml` calls it."""

    NEXT_DIP = "next dip due"
    LONGEST_WAIT_NEAR = "longest wait near"
    LONGEST_WAIT_PAST = "waiting too long"
    DEWAX = "ready for dewax"
    TOO_DAMP = "too damp"
    ROOM_OUT = "room out of limits"
    ROOM_SWING = "room swinging"
    ROOM_SILENT = "room silent"
    SENSOR_SILENT = "sensor silent"
    SENSORS_DIFFER = "sensors differ"
    BROKER_DOWN = "broker down"


class Echo(StrEnum):
    """A message that follows from an earlier one."""

    REMINDER = "reminder"
    ALL_CLEAR = "all clear"


LONGEST_WAIT = frozenset({Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST})
"""About the longest wait of a coat, before it ends and after."""

REMINDED = frozenset({Kind.NEXT_DIP, Kind.LONGEST_WAIT_PAST})
"""Told again as long as nobody acts."""

RECOVERS = frozenset(
    {
        Kind.TOO_DAMP,
        Kind.ROOM_OUT,
        Kind.ROOM_SILENT,
        Kind.SENSOR_SILENT,
        Kind.SENSORS_DIFFER,
        Kind.BROKER_DOWN,
    }
)
"""Told when it is over. A dip that was given needs no such message, nor does a swing that lies in the past."""
