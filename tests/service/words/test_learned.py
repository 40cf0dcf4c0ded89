"""What this shop taught, in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service import words
from service.learning.effect import EffectKind
from service.records.facts import LearnAnewBody
from service.records.shop_facts import Room
from service.room.learned_views import HeardKind, LearnedEffect
from service.words import Names
from service.words.learned import LINES, PIECES, THINGS, times
from tests.service.alerts.scene import NOW, SITE

NAMES = Names([Room(2, "Lean-to", 0.2)], {"wader": "Wading bird"})
HOOK = LearnedEffect(
    EffectKind.DRAUGHT,
    "2/3",
    1.4,
    1.2,
    1.7,
    0.6,
    1.6,
    ((HeardKind.WEIGHT, 12), (HeardKind.FELT, 5)),
    6,
    NOW - timedelta(days=1),
)
UNHEARD = replace(HOOK, likely=1.0, low=0.6, high=1.6, pieces=(), moulds=0, newest_at=None)


def test_what_a_founder_would_say() -> None:
    assert words.learned_line(HOOK, NAMES) == (
        "Hook 3 in Lean-to: water leaves 1.4 times as fast as the tables say (between 1.2 and 1.7)."
    )
    assert words.rests_on(HOOK, SITE, NOW) == (
        "From 12 weighings and 5 touches on 6 moulds, the newest yesterday."
    )
    assert words.known_at_first(HOOK) == "At first we only knew 0.60 to 1.6."


@pytest.mark.parametrize(
    ("kind", "of", "said"),
    [
        (EffectKind.DRAUGHT, "", "The whole shop"),
        (EffectKind.DRAUGHT, "2/3", "Hook 3 in Lean-to"),
        (EffectKind.DRAUGHT, "2/by the door", "By the door in Lean-to"),
        (EffectKind.DRAUGHT, "2/", "Lean-to, on no hook of its own"),
        (EffectKind.DRAUGHT, "7/3", "Hook 3 in room 7"),
        (EffectKind.DRAUGHT, "the moon", "“the moon”"),
        (EffectKind.DRYING, "wader/backup", "Wading bird, backup coats"),
        (EffectKind.THICKNESS, "gone/prime", "gone, prime coats"),
        (EffectKind.DRYING, "wader/varnish", "“wader/varnish”"),
    ],
)
def test_where(kind: EffectKind, of: str, said: str) -> None:
    assert words.where_learned(kind, of, NAMES) == said


@pytest.mark.parametrize("kind", EffectKind)
def test_every_kind_has_its_sentences(kind: EffectKind) -> None:
    other, same = LINES[kind]
    assert "{times}" in other
    assert "{times}" not in same
    assert THINGS[kind]
    line = words.learned_line(replace(HOOK, kind=kind, of="", likely=0.7), NAMES)
    assert line.startswith("The whole shop: ")
    assert "0.70 times" in line


@pytest.mark.parametrize("kind", HeardKind)
def test_every_kind_of_piece_has_its_words(kind: HeardKind) -> None:
    assert "{number}" in PIECES[kind][0]


@pytest.mark.parametrize(("likely", "same"), [(0.95, True), (1.05, True), (0.949, False), (1.051, False)])
def test_what_is_nearly_as_usual_is_told_as_that(likely: float, same: bool) -> None:
    line = words.learned_line(replace(HOOK, likely=likely), NAMES)
    assert ("about as fast as the tables say" in line) == same


def test_what_nothing_was_heard_of() -> None:
    assert words.learned_line(UNHEARD, NAMES) == (
        "Hook 3 in Lean-to: how fast water leaves. Nothing was heard of it yet."
    )
    assert words.known_at_first(UNHEARD) == "It may be 0.60 to 1.6 times the usual."
    assert words.rests_on(UNHEARD, SITE, NOW) == ""


def test_one_of_each() -> None:
    one = replace(HOOK, pieces=((HeardKind.FACE, 1),), moulds=1, newest_at=NOW)
    assert words.rests_on(one, SITE, NOW) == "From 1 reading of a face on 1 mould, the newest today."


def test_since_when_it_is_learned_anew() -> None:
    assert words.anew_since(HOOK, SITE, NOW) == ""
    anew = replace(HOOK, learned_anew_at=NOW - timedelta(hours=2))
    assert words.anew_since(anew, SITE, NOW) == "Learned anew since 12:20."


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (LearnAnewBody(), "To be learned anew: all that this shop taught"),
        (
            LearnAnewBody(effect="draught", of="2/3", text="the fan was moved"),
            "To be learned anew: how fast water leaves (Hook 3 in Lean-to): the fan was moved",
        ),
        (
            LearnAnewBody(effect="drying", of="wader/backup"),
            "To be learned anew: how fast water comes through a coat (Wading bird, backup coats)",
        ),
        (LearnAnewBody(effect="shine", of="x"), "To be learned anew: shine x"),
    ],
)
def test_something_to_be_learned_anew(body: LearnAnewBody, said: str) -> None:
    assert words.anew_line(body, NAMES) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.5, "0.50"), (0.994, "0.99"), (0.995, "1.0"), (1.0, "1.0"), (1.44, "1.4"), (12.0, "12.0")],
)
def test_two_figures(value: float, said: str) -> None:
    assert times(value) == said
