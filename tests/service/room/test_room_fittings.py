"""What stands in a room: nothing is required, what belongs together is asked for, what is unknown is passed over."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from service.drying.room_balance import Heater, Machines
from service.drying.room_loads import Tanks
from service.errors import BadInput
from service.records.set_up import Part, SetUp
from service.records.shop_facts import Room
from service.room.room_fittings import (
    CALLED,
    MOST_POINTS,
    RoomFittings,
    Runs,
    checked,
    fittings_of_rooms,
    fittings_set_up,
)
from tests.service.room.cases import refused

POINT = {"temperature_k": 300.15, "humidity": 0.6, "water_kg_s": 2e-4}
WHOLE: dict[str, Any] = {
    "volume_m3": 146.0,
    "heater_w": 3000.0,
    "heater": "holds",
    "heater_set_k": 294.15,
    "dehumidifier_points": [POINT],
    "dehumidifier_w": 400.0,
    "dehumidifier": "holds",
    "dehumidifier_set": 0.5,
    "fan_m_s": 1.0,
    "tank_m2": 0.4,
}


def said(name: str, body: dict[str, Any] | None) -> SetUp:
    return SetUp(1, Part.ROOMS, name, body, datetime(2026, 3, 2, tzinfo=UTC), "bench 1")


def test_of_an_empty_room_nothing_runs() -> None:
    room = RoomFittings()
    assert room.machines(0.2) == Machines(speed_m_s=0.2)
    assert not room.tells_anything
    assert room.air_changes_1_s is None


def test_what_runs_is_as_it_is_set() -> None:
    machines = checked(WHOLE).machines(0.6)
    assert machines.heater == Heater(3000.0, 294.15)
    assert machines.dehumidifier is not None
    assert machines.dehumidifier.power_w == 400.0
    assert (machines.set_humidity, machines.tanks, machines.speed_m_s) == (0.5, Tanks(0.4), 0.6)


def test_on_all_the_time_holds_nothing() -> None:
    machines = checked({**WHOLE, "heater": "on", "dehumidifier": "on"}).machines(0.2)
    assert machines.heater == Heater(3000.0, None)
    assert machines.set_humidity is None


def test_what_is_off_does_not_run() -> None:
    machines = checked({**WHOLE, "heater": "off", "dehumidifier": "off"}).machines(0.2)
    assert (machines.heater, machines.dehumidifier) == (None, None)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"heater": "on"}, "heater_w"),
        ({"heater": "holds", "heater_w": 2000.0}, "heater_set_k"),
        ({"dehumidifier": "on"}, "points"),
        ({"dehumidifier": "holds", "dehumidifier_points": [POINT]}, "dehumidifier_set"),
        ({"fan_on": True}, "fan_m_s"),
    ],
)
def test_what_belongs_together_is_asked_for(said: dict[str, Any], field: str) -> None:
    with refused("fitting_incomplete") as told:
        checked(said)
    assert told.value.field == field


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("volume_m3", 4.99),
        ("volume_m3", 50_001.0),
        ("air_changes_an_hour", 0.0),
        ("heater_w", 0.0),
        ("dehumidifier_set", 0.96),
        ("fan_m_s", 11.0),
        ("tank_m2", -0.1),
        ("people", 51),
    ],
)
def test_what_can_be_in_no_shell_room(name: str, value: float) -> None:
    with refused("fitting_wrong") as told:
        checked({name: value})
    assert told.value.field == name
    assert name in CALLED


@pytest.mark.parametrize("value", [5.0, 50_000.0])
def test_the_ends_are_taken(value: float) -> None:
    assert checked({"volume_m3": value}).volume_m3 == value


def test_a_plate_in_air_that_takes_nothing_out_is_refused() -> None:
    with refused("rating_too_dry"):
        checked({"dehumidifier_points": [{**POINT, "temperature_k": 278.15, "humidity": 0.3}]})


def test_so_many_points_and_no_more() -> None:
    assert len(checked({"dehumidifier_points": [POINT] * MOST_POINTS}).dehumidifier_points) == MOST_POINTS
    with pytest.raises(BadInput):
        checked({"dehumidifier_points": [POINT] * (MOST_POINTS + 1)})


class TestWhoSaysSo:
    ROOMS = (Room(1, "Shell room"), Room(2, "Lean-to"), Room(3, "Loft"))

    def test_the_browser_before_the_file_before_nothing(self) -> None:
        in_file = {"shell ROOM": RoomFittings(volume_m3=10.0), "Lean-to": RoomFittings(volume_m3=20.0)}
        found = fittings_of_rooms(self.ROOMS, in_file, [said("1", {"volume_m3": 30.0})])
        assert [found[room.id].volume_m3 for room in self.ROOMS] == [30.0, 20.0, None]

    def test_what_a_newer_coatbell_kept_is_passed_over(self) -> None:
        found = fittings_set_up(
            [
                said("1", {"volume_m3": 30.0, "windows": 4}),
                said("2", {"volume_m3": "large"}),
                said("loft", {"volume_m3": 30.0}),
                said("4", {"heater": "on"}),
                said("5", None),
            ]
        )
        assert found == {1: RoomFittings(volume_m3=30.0), 5: RoomFittings()}

    def test_what_is_kept_is_read_again(self) -> None:
        whole = checked(WHOLE)
        body = whole.model_dump(mode="json", exclude_defaults=True)
        assert fittings_set_up([said("1", body)])[1] == whole
        assert whole.heater is Runs.HOLDS
