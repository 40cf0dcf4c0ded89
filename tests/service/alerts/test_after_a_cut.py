"""The report after a cut, word by word."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from service.alerts.after_a_cut import ALL_ONE, HOW_WIDE, Blind, after_a_cut_message
from service.alerts.message import Message
from service.room.blind_views import Across, AirThen, MouldAcross, RoomAcross
from service.room.views import MouldNow, Stage
from service.units import Units
from tests.service.alerts.scene import NOW, ROOM, SITE, board, hours, minutes, mould, ready, rules

BLIND = Blind(NOW - hours(3) - minutes(20), NOW, "it ended in the middle, as when the power fails")


def then(celsius: float, humidity: float) -> AirThen:
    return AirThen(NOW, celsius + 273.15, humidity)


def room(**changes: Any) -> RoomAcross:
    plain = RoomAcross(
        ROOM, then(21, 0.52), then(12, 0.78), then(12, 0.78), 285.15, 294.15, ("Heron", "Bell")
    )
    return replace(plain, **changes)


def heron(**changes: Any) -> MouldAcross:
    plain = MouldAcross(3, "Heron", False, NOW + hours(1), NOW - minutes(10), NOW + hours(2))
    return replace(plain, **changes)


def report(
    *moulds: MouldAcross, rooms: tuple[RoomAcross, ...] = (room(),), hanging: tuple[MouldNow, ...] = ()
) -> Message:
    return after_a_cut_message(BLIND, Across(rooms, moulds), board(*hanging), rules())


def lines(message: Message) -> list[str]:
    return message.body.splitlines()


def test_how_long_why_and_the_air_on_both_sides() -> None:
    message = report()
    assert message.title == "Back after 3 h 20 min"
    assert lines(message) == [
        "coatbell did not run from 11:00 to 14:20: it ended in the middle, as when the power fails",
        "Shell room: 12.0 °C and 78 % now, 21.0 °C and 52 % before",
    ]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"now": None, "after": None}, "Shell room: no reading yet, 21.0 °C and 52 % before"),
        ({"before": None}, "Shell room: 12.0 °C and 78 % now, not measured before"),
    ],
)
def test_what_was_not_measured_is_said(changes: dict[str, Any], line: str) -> None:
    assert line in lines(report(rooms=(room(**changes),)))


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({}, "Heron: ready about 15:20, may be anywhere from 14:10 to 16:20"),
        ({"most": None}, "Heron: ready about 15:20, no earlier than 14:10"),
        ({"due_at": None}, "Heron: ready nobody can reckon when, may be anywhere from 14:10 to 16:20"),
        ({"due_at": None, "least": None, "most": None}, "Heron: ready nobody can reckon when"),
        ({"due_at": NOW}, "Heron: ready since about 14:20, may be anywhere from 14:10 to 16:20"),
        ({"for_dewax": True}, "Heron: dry for dewax about 15:20, may be anywhere from 14:10 to 16:20"),
        (
            {"most": NOW - minutes(10) + ALL_ONE},
            "Heron: ready about 15:20, may be anywhere from 14:10 to 14:20",
        ),
        ({"most": NOW - minutes(10.1) + ALL_ONE}, "Heron: ready about 15:20, whatever the air was"),
    ],
)
def test_how_wide(changes: dict[str, Any], line: str) -> None:
    message = report(heron(**changes))
    assert line in lines(message)
    assert (HOW_WIDE in lines(message)) is ("may be" in line or "no earlier" in line)


def test_many_moulds_are_counted() -> None:
    found = lines(report(*(heron(name=f"Bird {n}") for n in range(20))))
    assert "and 12 more" in found


@pytest.mark.parametrize(
    ("due_at", "named"),
    [
        (BLIND.since, True),
        (BLIND.since - minutes(1), False),
        (BLIND.until, True),
        (BLIND.until + minutes(1), False),
    ],
)
def test_what_came_ready_meanwhile_stands_in_one_line(due_at: datetime, named: bool) -> None:
    found = lines(report(hanging=(ready(due_at=due_at), mould(name="Bell", stage=Stage.DRYING))))
    assert ("Ready meanwhile: Heron" in found) is named


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        (
            {"coldest_k": 272.15},
            "Shell room may have come to -1.0 °C meanwhile (Heron, Bell): below 2.0 °C wet slurry freezes",
        ),
        (
            {"warmest_k": 308.15},
            "Shell room may have come to 35.0 °C meanwhile (Heron, Bell): above 32.0 °C wax softens",
        ),
    ],
)
def test_waxes_that_may_have_suffered_lead_the_title(changes: dict[str, Any], part: str) -> None:
    message = report(rooms=(room(**changes),))
    assert message.title == "Back after 3 h 20 min: look at the waxes"
    assert part in message.body


@pytest.mark.parametrize(
    "changes",
    [
        {"coldest_k": 275.15, "warmest_k": 305.15},
        {"coldest_k": 250.0, "hanging": ()},
        {"coldest_k": None, "warmest_k": None},
    ],
)
def test_at_the_limit_with_nothing_there_or_nothing_known_no_word_of_wax(changes: dict[str, Any]) -> None:
    assert "wax" not in report(rooms=(room(**changes),)).title


def test_in_the_units_of_the_shop() -> None:
    us = replace(SITE, units=Units.US, time_zone="America/New_York")
    message = after_a_cut_message(BLIND, Across((room(),), (heron(),)), board(site=us), rules())
    assert "Shell room: 54 °F and 78 % now, 70 °F and 52 % before" in message.body
    assert "from 6:00 am to 9:20 am" in message.body
