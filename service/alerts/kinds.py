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
    BEFORE_NIGHT = "before the night"
    WAX_AT_RISK = "wax at risk"
    AFTER_A_CUT = "after a cut"
    CLOCK_WRONG = "clock wrong"


class Echo(StrEnum):
    """A message that follows from an earlier one."""

    REMINDER = "reminder"
    ALL_CLEAR = "all clear"
    PUT_OFF = "put off"
    TAKEN_ON = "taken on"


LONGEST_WAIT = frozenset({Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST})
"""About the longest wait of a coat, before it ends and after."""

URGENT = (Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST, Kind.WAX_AT_RISK, Kind.CLOCK_WRONG)
"""What cannot wait for the morning, unless alerts.toml says otherwise."""

REMINDED = frozenset({Kind.NEXT_DIP, Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST})
"""Wants a hand: told again, and to the next person, as long as nobody acts or says that they come."""

RECOVERS = frozenset(
    {
        Kind.TOO_DAMP,
        Kind.ROOM_OUT,
        Kind.ROOM_SILENT,
        Kind.SENSOR_SILENT,
        Kind.SENSORS_DIFFER,
        Kind.BROKER_DOWN,
        Kind.WAX_AT_RISK,
    }
)
"""Told when it is over. A dip that was given needs no such message, nor does a swing that lies in the past."""
