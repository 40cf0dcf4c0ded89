"""What is in the way, in two or three words."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from service.records.facts import Problem
from service.room.views import MouldNow, NotAtThisHumidity, Stage, Wrong
from service.words import brief, notices

HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def drying() -> MouldNow:
    """It waits, in one place, with nothing in the way."""
    found = next(m for m in FakeShop.saltmarsh().all_moulds() if m.name == "Lapwing")
    return replace(found, least_wait_until=None, longest_wait_until=None, held_by=None, zones=found.zones[:1])


def said(mould: MouldNow, **more: Any) -> str:
    return brief(replace(mould, **more), SALTMARSH, START)


def test_nothing_is_in_the_way(drying: MouldNow) -> None:
    assert said(drying) == ""


def test_each_in_few_words(drying: MouldNow) -> None:
    frozen = replace(drying.zones[0], surface_temperature_k=272.0)
    assert said(drying, zones=(frozen,)) == "below freezing"
    assert said(drying, hand_check="dry") == "felt dry too soon"
    assert said(drying, longest_wait_until=START + HOUR) == "dip before 15:20"
    assert said(drying, longest_wait_until=START) == "past its longest wait"
    assert said(drying, due_at=None, never=NotAtThisHumidity(0.8, 0.63, 0.5, 9e3)) == "needs under 63 %"
    assert said(drying, wires_due=True) == "wires first"
    assert said(drying, guessing_since=START - HOUR) == "no reading for 1 h"
    assert said(drying, least_wait_until=drying.due_at) == "not before 14:50"
    assert said(drying, due_at=None) == "no hour known"
    assert said(drying, unmeasured_s=1800.0) == "partly guessed"
    assert said(drying, from_notebook=True) == "from the notebook"


def test_a_likely_hour_is_an_hour(drying: MouldNow) -> None:
    assert said(drying, due_at=None, about_at=START + HOUR) == ""


def test_felt_damp_though_reckoned_dry(drying: MouldNow) -> None:
    assert said(drying, stage=Stage.READY, hand_check="still damp") == "felt still damp"


def test_felt_damp_and_yet_it_cannot_wait_so_long(drying: MouldNow) -> None:
    held = replace(drying, stage=Stage.READY, hand_check="still damp", due_at=START + HOUR)
    assert said(held, longest_wait_until=START + HOUR) == "felt still damp"
    assert said(held, longest_wait_until=START + 59 * HOUR / 60) == "dip before 15:19"


def test_something_is_wrong_goes_before_all_but_frost(drying: MouldNow) -> None:
    older, newest = Wrong(Problem.DROPPED, "", START, ""), Wrong(Problem.CRACK, "at the cup", START, "")
    assert said(drying, wrong=(older, newest), wires_due=True) == "look at it first: Crack"
    frozen = replace(drying.zones[0], surface_temperature_k=272.0)
    assert said(drying, wrong=(newest,), zones=(frozen,)) == "below freezing"


def test_the_slowest_place_where_there_are_several(drying: MouldNow) -> None:
    zones = (drying.zones[0], replace(drying.zones[0], name="cup"))
    assert said(drying, zones=zones, held_by="cup") == "slowest: cup"


def test_wires_are_not_said_twice_where_they_are_the_job(drying: MouldNow) -> None:
    assert said(drying, stage=Stage.TO_WIRE, wires_due=True) == ""


def test_the_weightiest_is_said(drying: MouldNow) -> None:
    both = {"wires_due": True, "longest_wait_until": START + HOUR}
    assert said(drying, **both) == "dip before 15:20"


@pytest.mark.parametrize("count", [14])
def test_whoever_has_a_brief_word_has_a_sentence(count: int) -> None:
    """A row may say less than a mould's page, never something it leaves out."""
    for m in FakeShop.saltmarsh(count=count).all_moulds():
        if brief(m, SALTMARSH, START):
            assert notices(m, SALTMARSH, START), m.name
