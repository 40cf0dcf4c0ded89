"""What is wrong with a shell, in sentences."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service import words
from service.records.facts import Problem
from service.room.views import Stage, Wrong
from tests.service.alerts.scene import NOW, SITE, mould

CRACK = Wrong(Problem.CRACK, "at the cup", NOW, "bench 1")
DROPPED = Wrong(Problem.DROPPED, "", NOW + timedelta(minutes=5), "")


def test_every_problem_has_words() -> None:
    assert set(words.PROBLEM_WORDS) == set(Problem)


@pytest.mark.parametrize(
    ("over", "text", "said"),
    [
        (False, "", "Something is wrong: Crack"),
        (False, "at the cup", "Something is wrong: Crack: at the cup"),
        (True, "", "Put right: Crack"),
        (True, "dabbed on", "Put right: Crack: dabbed on"),
    ],
)
def test_a_line_of_the_record(over: bool, text: str, said: str) -> None:
    assert words.problem_note(Problem.CRACK, over, text) == said


def test_the_newest_is_what_stands_in_the_way() -> None:
    at = words.clock_time(NOW, SITE, NOW)
    assert words.obstacle(mould(wrong=(CRACK,)), SITE, NOW) == (
        f"Crack, told at {at}: at the cup. Look at it first"
    )
    line = words.wrong_line(mould(wrong=(CRACK, DROPPED)), SITE, NOW) or ""
    assert line.startswith("Dropped, told at")


@pytest.mark.parametrize("changes", [{"wrong": ()}, {"wrong": (CRACK,), "stage": Stage.ENDED}])
def test_nothing_in_the_way(changes: dict[str, object]) -> None:
    assert words.wrong_line(mould(**changes), SITE, NOW) is None
