"""The tanks' checks: which holds at an instant, whatever was corrected and however the tank is spelled."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.records.facts import AnyBody, Fact, NoteBody, TankCheckBody, WithdrawnBody
from service.room.last_check import LastChecks
from service.room.tank_checks import check_tank_correction, checks_of, known_as, tanks_now
from tests.service.room.cases import T0, h, refused

TICK = timedelta(microseconds=1)


def fact(number: int, body: AnyBody, at: datetime, replaces: int | None = None) -> Fact:
    return Fact(number, None, at, at, "bench 1", body, replaces, None, "")


def found(tank: str = "grey", flow_s: float = 15.0) -> TankCheckBody:
    return TankCheckBody(tank=tank, flow_s=flow_s)


MORNING, NOON, EVENING = T0, T0 + h(4), T0 + h(9)
DAY = [fact(1, found(), MORNING), fact(2, found("white"), NOON), fact(3, found(flow_s=16.0), EVENING)]


class TestBefore:
    @pytest.mark.parametrize(
        ("at", "number"),
        [
            (MORNING - TICK, None),
            (MORNING, 1),
            (EVENING - TICK, 1),
            (EVENING, 3),
            (EVENING + h(1000), 3),
        ],
    )
    def test_the_last_at_or_before(self, at: datetime, number: int | None) -> None:
        before = LastChecks(DAY).before("grey", at)
        assert (before.number if before else None) == number

    @pytest.mark.parametrize("name", ["Grey", "GREY", " grey ", "ｇｒｅｙ"])
    def test_however_it_is_spelled(self, name: str) -> None:
        before = LastChecks(DAY).before(name, EVENING)
        assert before is not None
        assert before.number == 3

    @pytest.mark.parametrize("name", ["white", "gray", ""])
    def test_but_not_another_tank(self, name: str) -> None:
        before = LastChecks(DAY).before(name, EVENING)
        assert (before.number if before else None) == (2 if name == "white" else None)

    def test_one_taken_back_never_was(self) -> None:
        back = [*DAY, fact(4, WithdrawnBody(), EVENING, replaces=3)]
        before = LastChecks(back).before("grey", EVENING)
        assert before is not None
        assert before.number == 1

    def test_one_corrected_counts_at_the_time_it_was_corrected_to(self) -> None:
        right = [*DAY, fact(4, found(flow_s=17.0), NOON, replaces=3)]
        for at, number in ((NOON - TICK, 1), (NOON, 4), (EVENING, 4)):
            before = LastChecks(right).before("grey", at)
            assert before is not None
            assert before.number == number

    def test_corrected_to_another_tank_it_is_of_that(self) -> None:
        right = [*DAY, fact(4, found("white"), EVENING, replaces=3)]
        assert [f.number for f in checks_of(right, "grey")] == [1]
        assert [f.number for f in checks_of(right, "white")] == [2, 4]

    def test_nothing_was_checked(self) -> None:
        assert LastChecks([]).before("grey", EVENING) is None


class TestTanks:
    def test_each_once_as_first_spelled_with_its_checks_newest_first(self) -> None:
        tanks = tanks_now(["Grey", "white", "grey", "third "], DAY)
        assert [(tank.name, [f.number for f in tank.checks]) for tank in tanks] == [
            ("Grey", [3, 1]),
            ("white", [2]),
            ("third", []),
        ]
        assert tanks[0].last == DAY[2]
        assert tanks[2].last is None

    def test_one_that_was_only_checked_is_there_too(self) -> None:
        assert [tank.name for tank in tanks_now([], DAY)] == ["grey", "white"]

    def test_a_name_is_kept_as_it_is_known(self) -> None:
        assert known_as(" GREY", ["white", "grey"]) == "grey"
        assert known_as(" pink ", ["white", "grey"]) == "pink"


class TestCorrection:
    def test_another_time_and_value(self) -> None:
        assert check_tank_correction(DAY[0], found(flow_s=20.0), NOON, EVENING) == NOON

    def test_a_clock_a_little_ahead_is_now(self) -> None:
        at = EVENING + timedelta(minutes=2)
        assert check_tank_correction(DAY[0], found(), at, EVENING) == EVENING
        with refused("tank_check_in_future"):
            check_tank_correction(DAY[0], found(), at + TICK, EVENING)

    def test_not_into_something_else(self) -> None:
        with refused("other_kind"):
            check_tank_correction(DAY[0], NoteBody(text="thick"), NOON, EVENING)
