"""Only what was learned can be learned anew."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.learning.effect import EffectKind
from service.room.learned_rules import check_learned
from service.room.learned_views import LearnedEffect
from tests.service.room.cases import T0, refused

FOUND = [LearnedEffect(EffectKind.DRAUGHT, "1/7", 1.2, 1.0, 1.4, 0.7, 1.4, (), 1, T0 - timedelta(days=1))]


@pytest.mark.parametrize(("effect", "of"), [("draught", "1/7"), ("", "")])
def test_what_is_there_and_all_of_it(effect: str, of: str) -> None:
    check_learned(FOUND, effect, of)


@pytest.mark.parametrize(("effect", "of"), [("draught", ""), ("drying", "1/7"), ("no such thing", "")])
def test_nothing_else(effect: str, of: str) -> None:
    with refused("not_learned"):
        check_learned(FOUND, effect, of)


def test_of_what_without_saying_what() -> None:
    """Or the whole shop would learn anew where one hook was meant."""
    with refused("effect_missing"):
        check_learned(FOUND, "", "1/7")


def test_all_of_it_even_where_that_is_nothing() -> None:
    check_learned([], "", "")
