"""When people are told of a wrong clock, to the second, and that it is told over a restart when it is right again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.clock import FakeClock
from service.clock_faults import BEHIND_FOR_S, CLOCK_TOLD, JUMP_TOLD_S, RIGHT_FOR_S, ClockFaults
from service.heartbeat import SHOWN_FOR, EarlierRun, Heartbeat
from tests.service.test_cuts import Notebook

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
BEFORE = NOON + timedelta(days=40)


class Machine:
    """A machine that starts at noon; `known`: what an earlier run was sure of."""

    def __init__(self, known: datetime | None = None, notebook: Notebook | None = None) -> None:
        self.clock, self.notebook = FakeClock(NOON), notebook or Notebook()
        self.heart = Heartbeat(self.clock, known, EarlierRun(known, False) if known else None)
        self.faults = ClockFaults(self.heart, self.notebook, self.clock)

    def put(self, seconds: float) -> None:
        self.clock.jump(self.clock.now() + timedelta(seconds=seconds))
        self.heart.beat()

    def told(self) -> list[tuple[str, bool]]:
        return [(c.message.title, c.firing) for c in self.faults.conditions(None)]


BEHIND, RIGHT = "The clock is wrong: no bell rings", "The clock is right again: bells ring"


def test_a_clock_that_is_right_is_no_news() -> None:
    machine = Machine()
    machine.clock.advance(3600)
    machine.heart.beat()
    assert machine.told() == []


def test_behind_is_told_after_five_minutes_of_it_and_right_when_it_is() -> None:
    machine = Machine(BEFORE)
    assert machine.told() == [(BEHIND, False)]
    machine.clock.advance(BEHIND_FOR_S - 0.001)
    assert machine.told() == [(BEHIND, False)]
    machine.clock.advance(0.001)
    assert machine.told() == [(BEHIND, True)]
    machine.put(50 * 86400)
    assert machine.told() == [(RIGHT, True)]
    machine.clock.advance(RIGHT_FOR_S - 0.001)
    assert machine.told() == [(RIGHT, True)]
    machine.clock.advance(0.001)
    assert machine.told() == []
    assert machine.notebook.recall(CLOCK_TOLD) == ""


def test_right_before_anybody_was_told_is_no_news() -> None:
    machine = Machine(BEFORE)
    machine.told()
    machine.clock.advance(BEHIND_FOR_S - 1)
    machine.put(50 * 86400)
    assert machine.told() == []


def test_who_was_told_hears_that_it_is_right_after_a_restart_too() -> None:
    machine = Machine(BEFORE)
    machine.told()
    machine.clock.advance(BEHIND_FOR_S)
    machine.told()
    again = Machine(NOON, machine.notebook)
    assert again.told() == [(RIGHT, True)]


def test_a_person_who_says_that_it_is_right_ends_it() -> None:
    machine = Machine(BEFORE)
    machine.told()
    machine.clock.advance(BEHIND_FOR_S)
    machine.told()
    machine.heart.trust()
    assert machine.told() == [(RIGHT, True)]


@pytest.mark.parametrize(
    ("by_s", "told"),
    [
        (JUMP_TOLD_S, []),
        (JUMP_TOLD_S + 30, [("The clock was put forward by 6 min", True)]),
        (-JUMP_TOLD_S, []),
        (-JUMP_TOLD_S - 30, [("The clock was put back by 6 min", True)]),
        (3 * 3600, [("The clock was put forward by 3 h", True)]),
    ],
)
def test_set_by_more_than_five_minutes_is_told(by_s: float, told: list[tuple[str, bool]]) -> None:
    machine = Machine()
    machine.put(by_s)
    assert machine.told() == told


def test_it_is_true_for_half_a_day() -> None:
    machine = Machine()
    machine.put(3600)
    machine.clock.advance(SHOWN_FOR.total_seconds() - 1)
    assert len(machine.told()) == 1
    machine.clock.advance(1)
    assert machine.told() == []


def test_each_jump_has_its_own_key() -> None:
    machine = Machine()
    keys = set()
    for hours in (3, -3, 2):
        machine.clock.advance(600)
        machine.put(hours * 3600)
        keys |= {condition.key for condition in machine.faults.conditions(None)}
    assert len(keys) == 3


def test_a_clock_set_right_soon_after_the_start_is_no_jump_to_tell() -> None:
    machine = Machine(NOON)
    machine.clock.advance(60)
    machine.put(9 * 3600)
    assert machine.told() == []
