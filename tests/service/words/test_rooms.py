"""What stands in a room and what it taught, in words and in either country's units."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service.learning.room import RoomNumber
from service.records.shop_facts import Room
from service.room.room_fittings import RatedPoint, RoomFittings, Runs
from service.room.room_views import LearnedNumber, LearnedRoom
from service.units import Units
from service.voice import Voice, speaking
from service.words.rooms import (
    ASSUMED,
    LINES,
    at_first_line,
    fittings_line,
    learned_number_line,
    load_line,
    room_anew_line,
    room_rests_on,
)
from tests.service.alerts.scene import NOW, SITE

HOUR_S = 3600.0
CHANGES = LearnedNumber(
    RoomNumber.AIR_CHANGES, 0.8 / HOUR_S, 0.55 / HOUR_S, 1.2 / HOUR_S, 0.3 / HOUR_S, 2.2 / HOUR_S
)
FOLLOWS = LearnedNumber(
    RoomNumber.FOLLOWS, 0.25 / HOUR_S, 0.2 / HOUR_S, 0.5 / HOUR_S, 0.1 / HOUR_S, 0.7 / HOUR_S
)
ROOM = LearnedRoom(Room(1, "Shell room"), (CHANGES,), 288, NOW - timedelta(days=6), True, True)


def test_what_was_learned_with_how_sure_it_is() -> None:
    assert learned_number_line(CHANGES, True) == "Its air is renewed about 0.8 times an hour (0.55 to 1.2)."
    assert at_first_line(CHANGES) == "At first we only knew 0.3 to 2.2."


def test_what_was_not_is_said_to_be_assumed() -> None:
    assert (
        learned_number_line(CHANGES, False)
        == "How often its air is renewed: 0.55 to 1.2 times an hour (assumed)."
    )


def test_the_faster_it_follows_the_sooner_it_is_half_way() -> None:
    """ln 2 over 0.25 an hour are 2 h 46 min."""
    assert learned_number_line(FOLLOWS, True) == (
        "Left alone it is half-way to what it is like outside after about 2 h 46 min (1 h 23 min to 3 h 28 min)."
    )
    assert at_first_line(FOLLOWS) == "At first we only knew 59 min to 6 h 56 min."


@pytest.mark.parametrize("kind", list(RoomNumber))
def test_every_kind_has_words(kind: RoomNumber) -> None:
    number = replace(CHANGES, kind=kind)
    assert kind in LINES
    assert "(assumed)" in learned_number_line(number, False)
    assert kind in ASSUMED


def test_the_water_that_something_else_gives() -> None:
    assert load_line(ROOM, SITE) is None
    loaded = replace(ROOM, load_kg_s=(9.0 / 86400, 7.0 / 86400, 11.4 / 86400))
    assert load_line(loaded, SITE) == (
        "Besides its moulds, something gives it about 9.0 l/day of water (7.0 l/day to 11.4 l/day): "
        "a wet floor, people, leaks."
    )


def test_what_it_rests_on() -> None:
    assert room_rests_on(ROOM, SITE, NOW).startswith("From 6 days of readings since ")
    assert room_rests_on(ROOM, SITE, NOW).endswith(", and the air outside.")
    assert room_rests_on(replace(ROOM, outdoors=False), SITE, NOW).endswith(
        "without knowing the air outside."
    )
    assert room_rests_on(replace(ROOM, half_hours=20), SITE, NOW).startswith("From 1 day of readings")
    assert room_rests_on(replace(ROOM, half_hours=0), SITE, NOW) == "Nothing was learned of it yet."


def test_since_when_it_is_learned_anew() -> None:
    assert room_anew_line(ROOM, SITE, NOW) == ""
    assert room_anew_line(replace(ROOM, learned_anew_at=NOW), SITE, NOW).startswith("Learned anew since ")


class TestFittings:
    WHOLE = RoomFittings(
        volume_m3=145.8,
        air_changes_an_hour=0.8,
        heater_w=3000.0,
        heater=Runs.HOLDS,
        heater_set_k=294.15,
        dehumidifier_points=(RatedPoint(temperature_k=300.15, humidity=0.6, water_kg_s=20 / 86400),),
        dehumidifier=Runs.HOLDS,
        dehumidifier_set=0.5,
        fan_m_s=1.0,
        fan_on=True,
        tank_m2=0.4,
        people=2,
    )

    def test_all_of_them(self) -> None:
        assert fittings_line(self.WHOLE, SITE) == (
            "145.8 m³; heater 3000 W, as it is set, at 21.0 °C; dehumidifier 20.0 l/day, as it is set, at 50 %; "
            "fan 1.0 m/s, on; open tanks 0.40 m²; 2 people at work; air renewed 0.8 times an hour"
        )

    def test_in_feet_and_pounds(self) -> None:
        with speaking(Voice(units=Units.US)):
            line = fittings_line(self.WHOLE, SITE)
        assert line.startswith("5149 ft³; heater 3000 W, as it is set, at 70 °F; dehumidifier 44.1 lb/day")

    def test_what_has_no_set_point_says_none(self) -> None:
        plain = RoomFittings(heater_w=2e3, heater=Runs.ON, people=1, fan_m_s=1.0)
        assert (
            fittings_line(plain, SITE) == "heater 2000 W, on all the time; fan 1.0 m/s, off; 1 person at work"
        )
        assert fittings_line(RoomFittings(), SITE) == "Nothing is told of it"
