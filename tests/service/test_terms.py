"""Stored words as they are said. That there is none missing is held in `test_languages`."""

from __future__ import annotations

from service.records.facts import FaultKind
from service.records.recipes import CoatKind
from service.terms import TERMS, term


def test_in_english_a_word_is_what_is_stored() -> None:
    assert term(CoatKind.PRIME) == "prime"
    assert type(term(FaultKind.RUN_OUT)) is str


def test_nothing_stays_nothing() -> None:
    assert term("") == ""


def test_a_word_of_no_list_stays_as_it_is() -> None:
    assert term("heron") == "heron"


def test_each_stands_there_once() -> None:
    assert len(TERMS) == len(set(TERMS))
