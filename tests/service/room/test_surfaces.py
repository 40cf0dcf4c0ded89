"""What sensors on the faces of shells told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.reading import Quantity, Reading
from service.room.surfaces import felt_surfaces
from service.room.views import FeltSurface

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def told(sensor: str, minutes: float, kelvin: float) -> Reading:
    at = NOON + timedelta(minutes=minutes)
    return Reading(sensor, Quantity.SURFACE_TEMPERATURE, kelvin, at, at)


def test_means_of_ten_minutes_sensor_by_sensor() -> None:
    readings = [told("b", 1, 290.0), told("a", 0, 288.0), told("a", 9.99, 289.0), told("a", 10, 291.0)]
    assert felt_surfaces(readings) == (
        FeltSurface("a", ((NOON + timedelta(minutes=5), 288.5), (NOON + timedelta(minutes=15), 291.0))),
        FeltSurface("b", ((NOON + timedelta(minutes=5), 290.0),)),
    )


def test_nothing_was_told() -> None:
    assert felt_surfaces([]) == ()
