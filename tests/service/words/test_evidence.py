"""What instruments told, as lines of the ledger."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service import words
from service.records.facts import FaceBody, SensorOnBody
from service.room.sensors_on import SensorOnNow
from service.units import Units
from tests.service.alerts.scene import NOW, SITE, minutes


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (FaceBody(temperature_k=291.55), "Face read: 18.4 °C"),
        (FaceBody(temperature_k=291.55, zone="hollow base"), "Face read at hollow base: 18.4 °C"),
    ],
)
def test_a_face(body: FaceBody, said: str) -> None:
    assert words.face_line(body, SITE) == said


def test_a_face_in_the_units_of_whoever_looks() -> None:
    body = FaceBody(temperature_k=291.55)
    assert words.face_line(body, replace(SITE, units=Units.US)) == "Face read: 65 °F"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (SensorOnBody(sensor="hoist"), "“hoist” put on"),
        (SensorOnBody(sensor="probe 2", zone="base"), "“probe 2” put on at base"),
        (SensorOnBody(sensor="probe 2", zone="base", off=True), "“probe 2” taken off"),
    ],
)
def test_a_sensor_on_a_mould(body: SensorOnBody, said: str) -> None:
    assert words.sensor_on_line(body) == said


@pytest.mark.parametrize(
    ("zone", "on_it", "on_mould"),
    [
        (None, "“hoist” is on it since 14:10", "On Heron since 14:10"),
        ("cup", "“hoist” sits at cup since 14:10", "On Heron, at cup, since 14:10"),
    ],
)
def test_where_a_sensor_is(zone: str | None, on_it: str, on_mould: str) -> None:
    worn = SensorOnNow("hoist", 3, "Heron", zone, NOW - minutes(10))
    assert words.worn_line(worn, SITE, NOW) == on_it
    assert words.on_mould_line(worn, SITE, NOW) == on_mould
