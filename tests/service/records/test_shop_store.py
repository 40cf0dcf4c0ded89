"""The site, the rooms, the sensors, and the small memory."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.errors import BadInput, Conflict, NotFound
from service.records.shop_facts import Room, Sensor, Site
from service.records.store import Records
from service.units import Units
from tests.service.records.making import minutes, reading, told

SALTMARSH = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)


def test_the_site_is_unknown_until_told(records: Records) -> None:
    assert records.site() is None


def test_the_site_comes_back_as_it_was(records: Records) -> None:
    records.save_site(replace(SALTMARSH, day_starts_hour=6, day_ends_hour=24, units=Units.US))
    assert records.site() == Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.US, 6, 24)


def test_the_site_can_be_told_anew(records: Records) -> None:
    records.save_site(SALTMARSH)
    records.save_site(replace(SALTMARSH, altitude_m=12.5))
    assert records.site() == replace(SALTMARSH, altitude_m=12.5)


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"name": "  "}, "name_missing"),
        ({"name": "x" * 61}, "name_too_long"),
        ({"altitude_m": 6000.1}, "out_of_range"),
        ({"altitude_m": -500.1}, "out_of_range"),
        ({"altitude_m": float("nan")}, "out_of_range"),
        ({"time_zone": "Europe/Saltmarsh"}, "time_zone_unknown"),
        ({"time_zone": "../etc"}, "time_zone_unknown"),
        ({"time_zone": ""}, "time_zone_unknown"),
        ({"day_starts_hour": 24}, "out_of_range"),
        ({"day_ends_hour": 0}, "out_of_range"),
    ],
    ids=str,
)
def test_a_site_that_cannot_be_is_told(records: Records, wrong: dict[str, Any], code: str) -> None:
    records.save_site(SALTMARSH)
    with told(BadInput, code):
        records.save_site(replace(SALTMARSH, **wrong))
    assert records.site() == SALTMARSH


@pytest.mark.parametrize("altitude_m", [-500.0, 6000.0])
def test_the_limits_of_altitude_are_allowed(records: Records, altitude_m: float) -> None:
    records.save_site(replace(SALTMARSH, altitude_m=altitude_m))
    found = records.site()
    assert found is not None
    assert found.altitude_m == altitude_m


def test_rooms_come_in_the_order_they_were_added(records: Records) -> None:
    shed = records.add_room("Shell shed")
    loft = records.add_room(" Loft ", still_air_m_s=0.5)
    assert [shed, loft] == [Room(shed.id, "Shell shed", 0.2), Room(loft.id, "Loft", 0.5)]
    assert records.rooms() == [shed, loft]


def test_a_room_can_be_changed(records: Records) -> None:
    room = records.add_room("Shell shed")
    records.change_room(Room(room.id, "Shell room", 0.3))
    records.change_room(Room(room.id, "Shell room", 0.4))
    assert records.rooms() == [Room(room.id, "Shell room", 0.4)]


def test_a_room_that_is_not_there_is_told(records: Records) -> None:
    with told(NotFound, "room_unknown", "room number 9"):
        records.change_room(Room(9, "Loft"))


def test_two_rooms_cannot_have_one_name(records: Records) -> None:
    records.add_room("Shell shed")
    loft = records.add_room("Loft")
    for again in (
        lambda: records.add_room("Shell shed "),
        lambda: records.change_room(Room(loft.id, "Shell shed")),
    ):
        with told(Conflict, "room_exists", "Shell shed"):
            again()
    assert [room.name for room in records.rooms()] == ["Shell shed", "Loft"]


def test_nor_names_that_look_alike(records: Records) -> None:
    records.add_room("Leanto")
    loft = records.add_room("Loft")
    for name in ("Lean\u200dto", "leanto", "\uff2ceanto"):
        with told(Conflict, "room_exists", "called “Leanto”"):
            records.add_room(name)
        with told(Conflict, "room_exists", "called “Leanto”"):
            records.change_room(Room(loft.id, name))
    records.change_room(Room(loft.id, "LOFT"))
    assert [room.name for room in records.rooms()] == ["Leanto", "LOFT"]


@pytest.mark.parametrize(
    ("name", "speed"), [("", 0.2), ("Loft", -0.1), ("Loft", 10.1), ("Loft", float("inf"))]
)
def test_a_room_that_cannot_be_is_told(records: Records, name: str, speed: float) -> None:
    with pytest.raises(BadInput):
        records.add_room(name, speed)
    assert records.rooms() == []


def test_a_sensor_is_known_from_when_it_was_first_heard(records: Records) -> None:
    records.hear_sensor("north", minutes(1))
    records.hear_sensor("north", minutes(2))
    assert records.sensors() == [Sensor("north", None, minutes(1), None)]


def test_sensors_come_by_name(records: Records) -> None:
    for name in ("south", "east", "north"):
        records.hear_sensor(name, minutes(1))
    assert [sensor.name for sensor in records.sensors()] == ["east", "north", "south"]


def test_a_sensor_is_hung_in_a_room_and_taken_down(records: Records) -> None:
    room = records.add_room("Shell shed")
    records.hear_sensor("north", minutes(1))
    records.place_sensor("north", room.id)
    assert records.sensors()[0].room_id == room.id
    records.hear_sensor("north", minutes(2))
    assert records.sensors()[0].room_id == room.id
    records.place_sensor("north", None)
    assert records.sensors()[0].room_id is None


def test_a_sensor_never_heard_cannot_be_hung(records: Records) -> None:
    with told(NotFound, "sensor_unknown", "“north”", "first reading"):
        records.place_sensor("north", None)


def test_a_sensor_cannot_hang_in_a_room_that_is_not_there(records: Records) -> None:
    records.hear_sensor("north", minutes(1))
    with told(NotFound, "room_unknown"):
        records.place_sensor("north", 9)
    assert records.sensors()[0].room_id is None


def test_readings_keep_the_place_of_their_sensor(records: Records) -> None:
    room = records.add_room("Shell shed")
    records.hear_sensor("shell-room-north", minutes(0))
    records.place_sensor("shell-room-north", room.id)
    records.add_readings([reading(minutes(1))])
    assert records.sensors()[0].room_id == room.id


def test_small_things_are_remembered(records: Records) -> None:
    assert records.recall("last_tick") is None
    records.remember("last_tick", "2026-03-02")
    records.remember("last_tick", "2026-03-03")
    assert records.recall("last_tick") == "2026-03-03"
