"""The temperature of a face: what no shell room has is a slip, and bare wax tells nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.room.face_rules import COLDEST_K, WARMEST_K, check_face_read
from service.units import Units
from tests.service.room.cases import T0, h, mould, refused

SECOND = timedelta(seconds=1)


@pytest.mark.parametrize("kelvin", [COLDEST_K, 291.2, WARMEST_K])
def test_what_a_face_can_have(kelvin: float) -> None:
    check_face_read(mould(1), kelvin, T0 + h(2), Units.METRIC)


@pytest.mark.parametrize(
    ("kelvin", "units", "said"),
    [
        (COLDEST_K - 0.1, Units.METRIC, "-5.1 °C is far from any shell room (-5.0 °C to 50.0 °C)."),
        (338.15, Units.METRIC, "65.0 °C is far from any shell room"),
        (338.15, Units.US, "149 °F is far from any shell room (23 °F to 122 °F)."),
    ],
)
def test_what_it_cannot(kelvin: float, units: Units, said: str) -> None:
    with refused("face_far_off") as told:
        check_face_read(mould(1), kelvin, T0 + h(2), units)
    assert said in told.value.message
    assert "look at its unit" in told.value.todo
    assert told.value.field == "temperature"


def test_from_the_first_dip_on() -> None:
    check_face_read(mould(1), 291.2, T0 + h(1), Units.METRIC)
    with refused("face_of_wax") as told:
        check_face_read(mould(1), 291.2, T0 + h(1) - SECOND, Units.METRIC)
    assert told.value.message == "Heron had no coat on at that time, and bare wax tells nothing."
    with refused("face_of_wax"):
        check_face_read(mould(), 291.2, T0 + h(1), Units.METRIC)
