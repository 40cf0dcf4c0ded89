"""Words in the language of whoever is spoken to."""

from __future__ import annotations

import threading

import pytest
from markupsafe import Markup

from service.units import Units
from service.voice import (
    Language,
    Voice,
    in_every_language,
    later,
    later_many,
    say,
    say_many,
    speaking,
    voice,
)

SPANISH = Voice(Language.SPANISH)


def test_english_is_what_stands_in_the_source() -> None:
    assert voice() == Voice(Language.ENGLISH, None)
    assert say("Board") == "Board"


def test_spanish_comes_from_its_catalogue() -> None:
    with speaking(SPANISH):
        assert say("Board") == "Tablero"


def test_what_is_not_translated_is_said_in_english() -> None:
    with speaking(SPANISH):
        assert say("Nobody translates this.") == "Nobody translates this."


def test_names_are_filled_in_and_may_hold_braces() -> None:
    assert say("{name} hangs on {hook}.", name="{heron}", hook=3) == "{heron} hangs on 3."


def test_a_text_without_values_stays_as_it_is() -> None:
    assert say("100 % {so}") == "100 % {so}"


def test_a_value_that_is_markup_escapes_everything_else() -> None:
    said = say("See {link}, {name}", link=Markup('<a href="/">board</a>'), name="<heron>")
    assert said == Markup('See <a href="/">board</a>, &lt;heron&gt;')


@pytest.mark.parametrize(("number", "words"), [(0, "0 coats"), (1, "1 coat"), (2, "2 coats")])
def test_a_number_chooses_its_form(number: int, words: str) -> None:
    assert say_many("{number} coat", "{number} coats", number) == words


def test_what_is_marked_stays_as_it_is() -> None:
    with speaking(SPANISH):
        assert later("Board") == "Board"


def test_who_was_spoken_to_before_is_spoken_to_again() -> None:
    with speaking(SPANISH):
        with speaking(Voice(units=Units.US)):
            assert voice().units is Units.US
        assert voice() == SPANISH
    assert voice() == Voice()


def test_it_ends_with_an_error_too() -> None:
    with pytest.raises(RuntimeError), speaking(SPANISH):
        raise RuntimeError
    assert voice() == Voice()


def test_another_thread_is_spoken_to_by_itself() -> None:
    heard = list[str]()
    with speaking(SPANISH):
        thread = threading.Thread(target=lambda: heard.append(say("Board")))
        thread.start()
        thread.join()
    assert heard == ["Board"]


def test_a_text_by_number_can_be_marked_and_said_later() -> None:
    coats = later_many("{number} coat", "{number} coats")
    assert [say_many(*coats, number) for number in (1, 2)] == ["1 coat", "2 coats"]


def test_a_text_in_every_language() -> None:
    assert in_every_language("Board") == ("Board", "Tablero")


def test_nothing_stays_nothing() -> None:
    """In a catalogue the empty text stands for its head."""
    with speaking(SPANISH):
        assert say("") == ""
