"""Sentences kept for whoever looks later."""

from __future__ import annotations

from jinja2 import Environment
from markupsafe import Markup

from service.held import Held, held
from service.units import Dimension, Units, show
from service.voice import Language, Voice, speaking, voice

SPANISH = Voice(Language.SPANISH)


def warm() -> Held:
    return Held(lambda: show(294.15, Dimension.TEMPERATURE, voice().units or Units.METRIC))


def test_reads_as_it_was_said_first() -> None:
    assert warm() == "21.0 °C"
    assert hash(warm()) == hash("21.0 °C")


def test_put_into_a_sentence_it_is_said_anew() -> None:
    kept = warm()
    with speaking(Voice(units=Units.US)):
        assert f"Now {kept}" == "Now 70 °F"
        assert str(kept) == "70 °F"
        assert kept == "21.0 °C"


def test_a_page_shows_it_anew_and_escapes_it() -> None:
    page = Environment(autoescape=True).from_string("<p>{{ kept }}</p>")
    kept = Held(lambda: f"<{voice().language}>")
    with speaking(SPANISH):
        assert page.render(kept=kept) == "<p>&lt;es&gt;</p>"
    assert kept.__html__() == Markup("&lt;en&gt;")


def test_held_says_a_text_in_the_language_of_whoever_looks() -> None:
    kept = held("Board")
    with speaking(SPANISH):
        assert str(kept) == "Tablero"
    assert str(kept) == "Board"


def test_a_value_that_is_held_is_said_anew_too() -> None:
    kept = held("{what} hangs", what=held("Board"))
    with speaking(SPANISH):
        assert str(kept) == "Tablero hangs"


def test_width_and_side_count() -> None:
    assert f"{held('Board'):>7}" == "  Board"
