"""What is dipped next, tank by tank."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from api.fakes import START, FakeShop
from service.alerts.dipping_order import A_DIP
from service.alerts.sessions import sessions
from service.room.views import MouldNow, Session, Stage

INSTANT = timedelta(microseconds=1)


@pytest.fixture(scope="module")
def like() -> MouldNow:
    return FakeShop.saltmarsh(count=1).board().moulds[0]


def ready(like: MouldNow, number: int, tank: str | None = "grey", **more: object) -> MouldNow:
    said = {"stage": Stage.READY, "due_at": START, "longest_wait_until": None, **more}
    return replace(like, id=number, name=f"Teal {number}", next_tank=tank, **said)  # type: ignore[arg-type]


def drying(like: MouldNow, number: int, after: timedelta, tank: str = "grey") -> MouldNow:
    return ready(like, number, tank, stage=Stage.DRYING, due_at=START + after)


def test_due_ones_stand_together_by_their_tank(like: MouldNow) -> None:
    moulds = [ready(like, 1), ready(like, 2, "white"), ready(like, 3)]
    assert sessions(moulds, START) == (Session("grey", (1, 3)), Session("white", (2,)))


def test_one_that_stood_nearly_too_long_comes_first_and_the_round_goes_on_at_its_tank(like: MouldNow) -> None:
    pressing = ready(like, 3, "white", longest_wait_until=START + 4 * A_DIP)
    moulds = [ready(like, 1), ready(like, 2, "white"), pressing, ready(like, 4)]
    assert sessions(moulds, START) == (Session("white", (3, 2)), Session("grey", (1, 4)))


def test_bare_wax_and_wires_belong_to_the_round(like: MouldNow) -> None:
    moulds = [ready(like, 1, stage=Stage.TO_DIP), ready(like, 2, stage=Stage.TO_WIRE)]
    assert sessions(moulds, START) == (Session("grey", (1, 2)),)


@pytest.mark.parametrize("stage", [Stage.DRY, Stage.FINAL_DRY, Stage.ENDED])
def test_what_needs_no_tank_is_in_no_session(like: MouldNow, stage: Stage) -> None:
    assert sessions([ready(like, 1, None, stage=stage)], START) == ()


def test_what_comes_waits_while_something_is_due(like: MouldNow) -> None:
    assert sessions([ready(like, 1), drying(like, 2, timedelta())], START) == (Session("grey", (1,)),)


class TestNothingIsDue:
    def test_the_first_to_come_with_those_ready_while_it_is_dipped(self, like: MouldNow) -> None:
        hour = timedelta(hours=1)
        moulds = [
            drying(like, 1, hour),
            drying(like, 2, hour + A_DIP),
            drying(like, 3, hour + A_DIP + INSTANT),
            drying(like, 4, hour, "white"),
        ]
        assert sessions(moulds, START) == (Session("grey", (1, 2)),)

    def test_without_an_hour_it_is_in_no_session(self, like: MouldNow) -> None:
        assert sessions([ready(like, 1, stage=Stage.DRYING, due_at=None)], START) == ()

    def test_nothing_hangs(self) -> None:
        assert sessions([], START) == ()


def test_a_tank_nobody_named_is_a_session_too(like: MouldNow) -> None:
    assert sessions([ready(like, 1, None), ready(like, 2)], START) == (
        Session(None, (1,)),
        Session("grey", (2,)),
    )
