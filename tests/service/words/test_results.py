"""How a mould came out, in the words of the shop."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service import words
from service.records.facts import Failing, FaultKind
from service.room.views import Stage
from tests.service.alerts.scene import mould

RUN_OUT = Failing(fault=FaultKind.RUN_OUT, zone="hollow base", coat=3)
FIN = Failing(fault=FaultKind.FIN)
LEFT = mould(9, stage=Stage.ENDED, outcome="dewaxed")


@pytest.mark.parametrize(
    ("zone", "coat", "said"),
    [
        ("base", 3, " at base, coat 3"),
        ("base", None, " at base"),
        (None, 3, " coat 3"),
        (None, None, ""),
    ],
)
def test_places(zone: str | None, coat: int | None, said: str) -> None:
    assert words.place_words(zone, coat) == said


def test_failings_one_after_the_other() -> None:
    assert words.failing_lines((RUN_OUT, FIN)) == "run-out at hollow base, coat 3; fin"
    assert words.failing_lines(()) == ""


def test_verdicts() -> None:
    assert words.verdict_line(LEFT) == ""
    assert words.verdict_line(replace(LEFT, verdict="sound")) == "Came out sound"
    failed = replace(LEFT, verdict="failed", failings=(RUN_OUT, FIN))
    assert words.verdict_line(failed) == "Failed: run-out at hollow base, coat 3; fin"


@pytest.mark.parametrize(
    ("outcome", "question"),
    [("dewaxed", "How did it come out?"), ("failed", "What failed?"), ("scrapped", "What failed?")],
)
def test_what_is_asked_of_one_that_left(outcome: str, question: str) -> None:
    assert words.result_question(replace(LEFT, outcome=outcome)) == question


def test_wanted_only_of_one_that_left_and_was_not_told() -> None:
    assert words.result_wanted(LEFT)
    assert not words.result_wanted(replace(LEFT, verdict="sound"))
    assert not words.result_wanted(mould())


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        ("under the wing", " under the wing, coat 4"),
        ("inner rim", " at inner rim, coat 4"),
        ("On top", " On top, coat 4"),
    ],
)
def test_a_place_that_says_where_needs_no_at(zone: str, said: str) -> None:
    assert words.place_words(zone, 4) == said
