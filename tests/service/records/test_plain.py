"""Names, limits, and text from outside."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from service.errors import BadInput
from service.records.plain import RECORDED, Name, name_of, not_blank, one_line, spelling, storable, within
from tests.service.records.making import told


@pytest.mark.parametrize("name", ["Loft", "  Loft ", "Loft\n"])
def test_blanks_around_a_name_go(name: str) -> None:
    assert name_of(name, "the room", "name") == "Loft"


@pytest.mark.parametrize(
    "name", ["Großer Schuppen", "北の小屋", "Shed 2 (north)", "x" * 60, "کارگاه\u200cها", "👩\u200d🏭"]
)
def test_names_of_any_tongue_are_fine(name: str) -> None:
    assert name_of(name, "the room", "name") == name


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("", "name_missing"),
        (" \t", "name_missing"),
        ("x" * 61, "name_too_long"),
        ("a\x00b", "name_unreadable"),
        ("a\u202eb", "name_unreadable"),
        ("\u200d", "name_missing"),
        ("\u3164", "name_missing"),
        ("\u0301", "name_missing"),
        ("\u20dd \u0301", "name_missing"),
        ("\ufe0f\u034f", "name_missing"),
    ],
)
def test_a_bad_name_is_told(name: str, code: str) -> None:
    with told(BadInput, code, "the room"):
        name_of(name, "the room", "name")


@pytest.mark.parametrize(
    "name", ["leanto", "LEANTO", "Lean\u200dto", "Lean\u200cto", "\uff2ceanto", "Leanto\u200d"]
)
def test_names_that_look_alike_are_spelled_alike(name: str) -> None:
    assert spelling(name) == spelling("Leanto")


def test_an_accent_may_be_written_in_two_ways_but_not_left_out() -> None:
    assert spelling("Café") == spelling("CAFE\u0301") != spelling("Cafe")
    assert spelling("Lean-to") != spelling("Leanto")


def test_the_field_is_named_for_programs() -> None:
    with pytest.raises(BadInput) as caught:
        name_of("", "the room", "room.name")
    assert caught.value.field == "room.name"


@pytest.mark.parametrize("value", [0.0, 5.0, 10.0])
def test_a_value_within_its_limits_passes(value: float) -> None:
    assert within(value, 0.0, 10.0, "The air speed", " m/s", "speed") == value


@pytest.mark.parametrize("value", [-1e-9, 10.000001, float("nan"), float("inf")])
def test_a_value_outside_is_told_with_the_limits(value: float) -> None:
    with told(BadInput, "out_of_range", "The air speed", "from 0 to 10 m/s"):
        within(value, 0.0, 10.0, "The air speed", " m/s", "speed")


@given(text=st.text(st.characters(codec=None), max_size=50))
def test_any_text_becomes_storable(text: str) -> None:
    kept = storable(text, 40)
    assert len(kept) <= 40
    assert "\x00" not in kept
    kept.encode("utf-8")


@pytest.mark.parametrize("text", ["", "Heron", "Reiher, groß", "鷺", "two\u00a0words", "👩\u200d🏭", " "])
def test_what_stands_in_a_line_is_taken(text: str) -> None:
    assert one_line(text) == text


@pytest.mark.parametrize(
    "text", ["a\nb", "a\rb", "a\tb", "a\x00b", "a\x1b[2J", "a\u2028b", "a\u2029b", "a\x85b"]
)
def test_what_breaks_a_line_is_told(text: str) -> None:
    with told(BadInput, "not_one_line"):
        one_line(text)


@pytest.mark.parametrize("text", ["\u202aa", "a\u202eb", "\u2066a", "a\u2069"])
def test_what_turns_the_way_of_reading_is_told(text: str) -> None:
    with told(BadInput, "turns_round", "pasting"):
        one_line(text)


@pytest.mark.parametrize("text", [" ", "\u00a0", "\u3000 "])
def test_nothing_but_blanks_is_no_name(text: str) -> None:
    assert one_line(text) == text
    with told(BadInput, "blank"):
        not_blank(text)


@pytest.mark.parametrize(
    "text", ["\u200b", "\ufeff", " \u200d ", "\u2060\u00ad", "\u3164", "\u2800", "\ufe0f"]
)
@pytest.mark.parametrize("check", [one_line, not_blank])
def test_signs_that_draw_nothing_are_told(text: str, check: Callable[[str], str]) -> None:
    with told(BadInput, "blank"):
        check(text)


@pytest.mark.parametrize("text", ["👩\u200d🏭", "❤\ufe0f", "می\u200cخواهم", "a\u200b", "é"])
def test_joiners_between_signs_are_fine(text: str) -> None:
    assert not_blank(one_line(text)) == text


def test_what_stands_in_the_records_is_read_as_it_was_taken() -> None:
    name: TypeAdapter[str] = TypeAdapter(Name)
    assert name.validate_python("a\u202eb", context=RECORDED) == "a\u202eb"
    with pytest.raises(ValidationError):
        name.validate_python("a\u202eb")
