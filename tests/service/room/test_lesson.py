"""What is kept of one mould: made of a story, and the same again after it was kept as text."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest

from service.learning.effect import EffectKind
from service.learning.site import NOTHING_HEARD
from service.learning.smoother import Learnt, assimilate
from service.learning.story import Story
from service.records.facts import FaceBody, NoteBody, Problem, WeightBody
from service.room.anew import Anew
from service.room.learned_views import HeardKind
from service.room.lesson import Lesson, doubt_left, kept, lesson, made_from, read
from service.room.spread import DOUBT
from service.room.stories import story
from service.room.told_on import ToldOn
from tests.service.room.cases import FACE, HOLE, PARAMETERS, T0, Ledger, h, mould_body, seconds, steady


def book() -> Ledger:
    made = Ledger()
    made.hang(mould_body(zones=(FACE, HOLE), hook="7"))
    made.dips(0, 5)
    for body, hours in (
        (WeightBody(mass_kg=5.0), 5.5),
        (WeightBody(mass_kg=4.985), 8),
        (FaceBody(temperature_k=289.5, zone="body"), 6),
        (NoteBody(problem=Problem.STUCCO_SHED), 5.1),
    ):
        made.write(body, T0 + h(hours))
    made.feel("still damp", T0 + h(7), "cup")
    return made


ON = (ToldOn(seconds(T0 + h(7.5)), "probe", "cup", 290.0),)


@cache
def smoothed() -> tuple[Story, Learnt]:
    told = story(book().progress, seconds(T0 + h(9)), Anew(), ON)
    assert told is not None
    (learnt,) = assimilate([told], [NOTHING_HEARD], steady(), PARAMETERS, 16)
    return told, learnt


def taught() -> Lesson:
    told, learnt = smoothed()
    return lesson(told, "all of it", learnt, frozenset({1, 3}), ended=True)


def by_hand(made: Ledger, anew: Anew | None = None) -> str:
    found = story(made.progress, math.inf, anew or Anew())
    assert found is not None
    return made_from(found)


class TestMadeFrom:
    def test_the_same_facts_are_the_same(self) -> None:
        assert by_hand(book()) == by_hand(book())

    @pytest.mark.parametrize("number", [2, 3, 4, 5, 6, 8])
    def test_each_of_them_counts(self, number: int) -> None:
        made = book()
        fact = next(f for f in made.facts if f.number == number)
        made.facts[made.facts.index(fact)] = replace(fact, at=fact.at + h(0.01))
        assert by_hand(made) != by_hand(book())

    def test_wires_too_for_they_weigh(self) -> None:
        wired = book()
        wired.wires(2, T0 + h(8.5))
        assert by_hand(wired) != by_hand(book())

    def test_a_remark_and_an_end_do_not(self) -> None:
        ended = book()
        ended.write(NoteBody(text="the fan hums"), T0 + h(8))
        ended.end(T0 + h(9))
        assert by_hand(ended) == by_hand(book())


class TestHeard:
    def test_each_as_screens_show_it(self) -> None:
        found = {each.number: each for each in taught().heard}
        first, second, face, shed, felt, probe = (found[n] for n in (4, 5, 6, 7, 8, None))
        assert [each.kind for each in (second, face, shed, felt, probe)] == [
            HeardKind.WEIGHT,
            HeardKind.FACE,
            HeardKind.REDIP,
            HeardKind.FELT,
            HeardKind.FACE,
        ]
        assert [each.zone for each in (second, face, shed, felt, probe)] == [None, "body", None, "cup", "cup"]
        assert (second.said, second.against_at) == (pytest.approx(-0.015), T0 + h(5.5))
        assert (face.said, felt.said, shed.said, probe.said) == (289.5, 0.0, 0.0, 290.0)
        assert (first.at, probe.at) == (T0 + h(5.5), T0 + h(7.5))
        assert (face.coat, felt.coat) == (2, 2)
        assert face.spread > 0.0
        assert felt.spread == 0.0
        assert 0.0 <= felt.expected <= 1.0

    def test_a_weight_that_nothing_is_held_against_is_not_among_them(self) -> None:
        made = Ledger()
        made.hang(mould_body(zones=(FACE,)))
        made.dips(0)
        made.write(WeightBody(mass_kg=5.0), T0 + h(1))
        told = story(made.progress, seconds(T0 + h(2)), Anew())
        assert told is not None
        (learnt,) = assimilate([told], [NOTHING_HEARD], steady(), PARAMETERS, 16)
        assert len(learnt.heard) == 1
        assert lesson(told, "", learnt, frozenset(), ended=False).heard == ()


class TestDoubt:
    def test_where_nothing_was_heard_it_is_about_that_of_the_model(self) -> None:
        """Of several places and coats a part averages out."""
        made = Ledger()
        made.hang(mould_body(zones=(FACE,)))
        made.dips(0)
        told = story(made.progress, seconds(T0 + h(1)), Anew())
        assert told is not None
        (learnt,) = assimilate([told], [NOTHING_HEARD], steady(), PARAMETERS)
        assert doubt_left(learnt.laid) == pytest.approx(DOUBT, rel=0.2)

    def test_what_was_heard_leaves_less(self) -> None:
        told, learnt = smoothed()
        (before,) = assimilate([replace(told, evidence=())], [NOTHING_HEARD], steady(), PARAMETERS, 16)
        assert doubt_left(learnt.laid)[0] < doubt_left(before.laid)[0]


class TestKept:
    def test_as_text_it_comes_back_as_it_was(self) -> None:
        it = taught()
        text = json.dumps(kept(it, air=4), allow_nan=False)
        back = read(it.mould_id, json.loads(text))
        assert json.loads(text)["air"] == 4
        same = ("made_from", "own", "doubt", "last_dip_s", "until", "rooms", "ended")
        assert [getattr(back, name) for name in same] == [getattr(it, name) for name in same]
        assert it.until == T0 + h(9)
        assert it.until.tzinfo is UTC
        for one, other in zip(back.heard, it.heard, strict=True):
            assert replace(one, said=0, expected=0, spread=0, surprise=0) == replace(
                other, said=0, expected=0, spread=0, surprise=0
            )
            assert (one.expected, one.surprise) == pytest.approx((other.expected, other.surprise), abs=1e-6)

    def test_what_it_taught_too(self) -> None:
        it = taught()
        back = read(it.mould_id, json.loads(json.dumps(kept(it, air=0))))
        assert it.site is not None
        assert back.site is not None
        assert back.site.effects == it.site.effects
        assert {effect.kind for effect in it.site.effects} == set(EffectKind)
        assert back.site.precision == pytest.approx(it.site.precision, rel=1e-6, abs=1e-9)
        assert np.array_equal(back.site.precision, back.site.precision.T)
        assert back.site.shift == pytest.approx(it.site.shift, rel=1e-6, abs=1e-9)
        assert (back.site.at_s, back.site.pieces) == (it.site.at_s, it.site.pieces)

    def test_one_that_taught_nothing(self) -> None:
        it = Lesson(3, "", (), DOUBT, None, (), 0.0, datetime(2026, 3, 2, tzinfo=UTC), frozenset(), True)
        assert read(3, json.loads(json.dumps(kept(it, air=0)))) == it
