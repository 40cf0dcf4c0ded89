"""Worked out once for the same shells."""

from __future__ import annotations

import threading

import pytest

from service.errors import Unavailable
from service.failures import remember
from service.failures.look import look
from service.failures.remember import Remembered
from service.failures.views import Failures, Looked
from service.room.views import ShellSummary
from tests.service.failures.making import shop

SHELLS = shop(30, 1)


class Asked:
    """Counts how often the shells were asked for."""

    def __init__(self, shells: list[ShellSummary]) -> None:
        self.shells, self.times = shells, 0

    def __call__(self) -> list[ShellSummary]:
        self.times += 1
        return list(self.shells)


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[Looked]:
    made = list[Looked]()

    def counted(shells: list[ShellSummary], looked: Looked) -> Failures:
        made.append(looked)
        return look(shells, looked)

    monkeypatch.setattr(remember, "look", counted)
    return made


def test_the_same_number_asks_nothing_again(looks: list[Looked]) -> None:
    asked, remembered = Asked(SHELLS), Remembered()
    first = remembered.failures(Looked.TOGETHER, 7, asked)
    assert remembered.failures(Looked.TOGETHER, 7, asked) is first
    assert (asked.times, looks) == (1, [Looked.TOGETHER])


def test_a_new_fact_that_changes_no_finished_shell_works_out_nothing(looks: list[Looked]) -> None:
    asked, remembered = Asked(SHELLS), Remembered()
    first = remembered.failures(Looked.TOGETHER, 7, asked)
    assert remembered.failures(Looked.TOGETHER, 8, asked) is first
    assert (asked.times, len(looks)) == (2, 1)


def test_another_shell_is_looked_at(looks: list[Looked]) -> None:
    asked, remembered = Asked(SHELLS), Remembered()
    remembered.failures(Looked.TOGETHER, 7, asked)
    asked.shells = shop(31, 1)
    found = remembered.failures(Looked.TOGETHER, 8, asked)
    assert found.sound + found.failed == 31
    assert len(looks) == 2


def test_both_ways_of_looking_are_kept(looks: list[Looked]) -> None:
    asked, remembered = Asked(SHELLS), Remembered()
    for looked in (*Looked, *Looked):
        assert remembered.failures(looked, 7, asked).looked is looked
    assert (asked.times, looks) == (1, list(Looked))


def test_no_shells_are_remembered_too(looks: list[Looked]) -> None:
    asked, remembered = Asked([]), Remembered()
    remembered.failures(Looked.TOGETHER, 0, asked)
    remembered.failures(Looked.TOGETHER, 0, asked)
    assert (asked.times, len(looks)) == (1, 1)


def test_two_at_once_wait_for_one_answer(looks: list[Looked]) -> None:
    asked, remembered = Asked(SHELLS), Remembered()
    threads = [
        threading.Thread(target=remembered.failures, args=(Looked.TOGETHER, 7, asked)) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (asked.times, len(looks)) == (1, 1)


def test_what_could_not_be_read_is_tried_again() -> None:
    def fails() -> list[ShellSummary]:
        raise Unavailable("disk", "The records cannot be read.", "Look at the disk.")

    remembered = Remembered()
    with pytest.raises(Unavailable):
        remembered.failures(Looked.TOGETHER, 7, fails)
    assert remembered.failures(Looked.TOGETHER, 7, Asked(SHELLS)).failed
