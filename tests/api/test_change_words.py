"""What a change of a mould changed, as a sentence."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from api.change_words import change_line, room_name
from api.fakes import START, FakeShop
from service.records.facts import Fact, MouldBody
from service.records.shop_facts import Room
from tests.api.scene import mould

ROOMS = [Room(1, "Shell room", 0.2), Room(2, "Lean-to", 0.2)]
INSTANT = timedelta(microseconds=1)


@pytest.fixture
def hung(shop: FakeShop) -> Fact:
    return shop.records.facts(mould(shop, "Heron").id)[0]


def told(hung: Fact, later: timedelta = timedelta(0), **changes: Any) -> str:
    assert isinstance(hung.body, MouldBody)
    new = replace(hung, body=hung.body.model_copy(update=changes), at=hung.at + later, number=99)
    return change_line(new, hung, ROOMS)


def test_the_room(hung: Fact) -> None:
    assert told(hung, INSTANT, room_id=2) == "Moved to Lean-to"
    assert told(hung, room_id=2) == "In Lean-to instead of Shell room"
    assert told(hung, INSTANT) == told(hung, -INSTANT) == "In Shell room since then"


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"hook": "4"}, "Hook 4 instead of 1"),
        ({"hook": ""}, "Hook none instead of 1"),
        ({"name": "Grey heron", "hook": "4"}, "Name Grey heron instead of Heron; hook 4 instead of 1"),
        ({"wanted_by": START + timedelta(days=9)}, "Changed the date it is wanted by"),
        ({"height_m": 0.5, "wax_mass_kg": 3.0}, "Changed size and wax"),
        ({"zones": ()}, "Changed the places that dry"),
        ({}, "Written down again, nothing changed"),
    ],
)
def test_everything_else(hung: Fact, changes: dict[str, Any], line: str) -> None:
    assert told(hung, **changes) == line


def test_what_was_not_known_before(hung: Fact) -> None:
    assert isinstance(hung.body, MouldBody)
    bare = replace(hung, body=hung.body.model_copy(update={"hook": ""}))
    assert told(bare, hook="4") == "Hook 4"


def test_a_room_that_is_not_there_any_more_has_its_number() -> None:
    assert room_name(7, ROOMS) == "room 7"
