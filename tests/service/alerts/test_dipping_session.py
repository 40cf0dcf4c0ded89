"""What one tank is ready for."""

from __future__ import annotations

from datetime import datetime

import pytest

from service.alerts.dipping_session import at_tank, at_tanks
from service.room.views import MouldNow, Stage
from tests.service.alerts.scene import NOW, hours, minutes, mould


def one(name: str, stage: Stage = Stage.READY, tank: str | None = "grey", **said: object) -> MouldNow:
    return mould(name=name, id=sum(map(ord, name)), stage=stage, next_tank=tank, **{"due_at": NOW, **said})


HERON, CURLEW = one("Heron", due_at=NOW - minutes(9)), one("Curlew")
GATE = one("Gate", Stage.TO_WIRE)
BELL = one("Bell", Stage.TO_DIP, "white")
WREN, TEAL = (
    one("Wren", Stage.DRYING, due_at=NOW + hours(2)),
    one("Teal", Stage.DRYING, due_at=NOW + hours(1)),
)
DAMP = one("Avocet", Stage.DRYING, due_at=None)
HEAD = one("Head", Stage.FINAL_DRY, None)
ALL = [WREN, DAMP, HEAD, TEAL, GATE, CURLEW, BELL, HERON]


def names(moulds: tuple[MouldNow, ...]) -> list[str]:
    return [each.name for each in moulds]


def test_those_ready_stand_in_dipping_order_and_the_rest_by_the_hour() -> None:
    here = at_tank(ALL, "grey", NOW)
    assert names(here.ready) == ["Heron", "Curlew", "Gate"]
    assert names(here.not_yet) == ["Teal", "Wren", "Avocet"]
    assert here.next_at == TEAL.due_at


def test_a_longest_wait_that_ends_soon_comes_first() -> None:
    pressing = one("Knot", longest_wait_until=NOW + minutes(20))
    assert names(at_tank([*ALL, pressing], "grey", NOW).ready)[0] == "Knot"


@pytest.mark.parametrize("spelled", ["grey", "Grey", "GREY"])
def test_a_tank_is_one_however_it_is_spelled(spelled: str) -> None:
    assert len(at_tank(ALL, spelled, NOW).ready) == 3


@pytest.mark.parametrize(("tank", "at"), [("white", None), ("blue", None)])
def test_no_hour_where_nothing_dries(tank: str, at: datetime | None) -> None:
    assert at_tank(ALL, tank, NOW).next_at is at


def test_the_tank_with_most_to_dip_comes_first_then_by_the_hour() -> None:
    later = one("Snipe", Stage.DRYING, "fine", due_at=NOW + hours(3))
    found = at_tanks([*ALL, later], ["blue", "White", "Grey"], NOW)
    assert [(each.tank, len(each.ready)) for each in found] == [
        ("Grey", 3),
        ("White", 1),
        ("fine", 0),
        ("blue", 0),
    ]
