"""Rounds beside each other."""

from __future__ import annotations

import threading

import pytest

from service.alerts.rounds import Rounds


def hang(let_go: threading.Event) -> None:
    assert let_go.wait(10)


def test_one_that_hangs_holds_up_no_other() -> None:
    rounds, let_go, told = Rounds(), threading.Event(), []
    hanging = rounds.begin("bench 1", lambda: hang(let_go))
    rounds.begin("bench 2", lambda: told.append("bell"))
    assert rounds.wait("bench 2", 10)
    assert told == ["bell"]
    assert rounds.busy() == {"bench 1"}
    assert not rounds.wait("bench 1", 0.01)
    let_go.set()
    hanging.join(10)
    assert rounds.busy() == set()


def test_nobody_is_busy_at_first() -> None:
    rounds = Rounds()
    assert rounds.busy() == set()
    assert rounds.wait("bench 1", 0)
    rounds.check()


def test_what_a_round_ended_with_is_raised_once_each() -> None:
    def fail() -> None:
        raise OSError("the disk is full")

    rounds = Rounds()
    for name in ("bench 1", "bench 2"):
        rounds.begin(name, fail).join(10)
    for _ in range(2):
        with pytest.raises(OSError, match="full"):
            rounds.check()
    rounds.check()


def test_the_end_of_the_program_waits_for_none_of_them() -> None:
    rounds, let_go = Rounds(), threading.Event()
    hanging = rounds.begin("bench 1", lambda: hang(let_go))
    assert hanging.daemon
    rounds.close(0.05)
    assert rounds.busy() == {"bench 1"}
    let_go.set()
    hanging.join(10)
