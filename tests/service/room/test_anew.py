"""What is to be learned anew: which dips it counts for, to the instant."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.learning.effect import EffectKind
from service.records.facts import Fact, LearnAnewBody
from service.room.anew import Anew
from tests.service.room.cases import T0, Ledger, h, seconds

INSTANT = timedelta(microseconds=1)


def said(*told: tuple[str, str, datetime], withdrawn: int | None = None) -> list[Fact]:
    book = Ledger(mould_id=0)
    facts = [book.write(LearnAnewBody(effect=effect, of=of), at) for effect, of, at in told]
    if withdrawn is not None:
        book.withdraw(facts[withdrawn], T0 + h(99))
    return book.facts


def epoch(facts: list[Fact], at: datetime, kind: EffectKind = EffectKind.DRAUGHT, of: str = "1/7") -> int:
    return Anew(facts).effect(kind, of, seconds(at)).epoch


def test_from_its_own_instant_on() -> None:
    facts = said(("draught", "1/7", T0))
    assert [epoch(facts, at) for at in (T0 - INSTANT, T0, T0 + h(9))] == [0, 1, 1]


@pytest.mark.parametrize(
    ("effect", "of", "counts"),
    [
        ("draught", "1/7", 1),
        ("", "", 1),  # all there is
        ("draught", "", 0),  # the whole shop's draught is not this hook's
        ("draught", "1/8", 0),
        ("drying", "1/7", 0),
    ],
)
def test_only_what_it_is_of(effect: str, of: str, counts: int) -> None:
    assert epoch(said((effect, of, T0)), T0) == counts


def test_it_counts_up() -> None:
    facts = said(("draught", "1/7", T0), ("", "", T0 + h(1)), ("draught", "1/7", T0 + h(2)))
    assert [epoch(facts, T0 + h(hours)) for hours in (0, 1, 2)] == [1, 2, 3]
    assert Anew(facts).times_s(EffectKind.DRAUGHT, "1/7") == [seconds(T0 + h(n)) for n in (0, 1, 2)]


def test_taken_back_it_never_was() -> None:
    facts = said(("draught", "1/7", T0), ("draught", "1/7", T0 + h(1)), withdrawn=0)
    assert epoch(facts, T0 + h(2)) == 1
    assert epoch(facts, T0 + h(0.5)) == 0


def test_what_was_said_by_a_time_is_one_text() -> None:
    facts = said(("draught", "1/7", T0), ("", "", T0 + h(2)))
    before, after = Anew(facts[:1]), Anew(facts)
    assert before.until(seconds(T0 + h(1))) == after.until(seconds(T0 + h(1)))
    assert before.until(seconds(T0 + h(2))) != after.until(seconds(T0 + h(2)))


def test_the_same_words_are_the_same() -> None:
    assert Anew(said(("draught", "1/7", T0))) == Anew(said(("draught", "1/7", T0)))
    assert Anew(said(("draught", "1/7", T0))) != Anew()
