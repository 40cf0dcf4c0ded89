"""From a proposal to a form, and from the form to a table of sensors.toml."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.asked import Form
from api.fakes import SALTMARSH, START
from api.sensor_form import (
    MEANINGS,
    QUANTITIES,
    decoded_line,
    meanings,
    of_air,
    often_line,
    rows_of,
    table_of,
)
from service.errors import BadInput
from service.listening import Guess, Proposal, ReadBy, TopicHeard, Tried
from service.reading import Quantity
from service.units import Units, convert
from service.words.numbers import DIMENSIONS

HEARD = TopicHeard("attic/kiln", "{}", START, 60.0, False, ReadBy.NOBODY)
KILN = Proposal(
    HEARD,
    "{}",
    "kiln",
    (
        Guess("t", "70.5", Quantity.AIR_TEMPERATURE, "degF"),
        Guess("h", "48", Quantity.RELATIVE_HUMIDITY, "%"),
        Guess("battery", "97", None, ""),
    ),
)


def test_as_guessed() -> None:
    rows = rows_of(KILN)
    assert [(row.label, row.meaning) for row in rows] == [
        ("t", "air_temperature|degF"),
        ("h", "relative_humidity|%"),
        ("battery", ""),
    ]
    assert table_of(KILN, rows, Form({"sensor": "kiln"})) == {
        "pattern": "attic/kiln",
        "sensor": "kiln",
        "values": [
            {"quantity": "air_temperature", "unit": "degF", "field": "t", "optional": True},
            {"quantity": "relative_humidity", "unit": "%", "field": "h", "optional": True},
        ],
    }


def test_as_the_form_says() -> None:
    form = Form(
        {"sensor": "oven", "meaning-0": "surface_temperature|degC", "part-0": "left", "meaning-1": ""}
    )
    (value,) = table_of(KILN, rows_of(KILN, form), form)["values"]
    assert value == {"quantity": "surface_temperature", "unit": "degC", "field": "t", "part": "left"}


def test_a_plain_number_has_no_field() -> None:
    plain = replace(KILN, guesses=(Guess(None, "21", Quantity.WEIGHT, "kg"),))
    assert rows_of(plain)[0].label == "the whole message"
    assert table_of(plain, rows_of(plain), Form({"sensor": "s"}))["values"] == [
        {"quantity": "weight", "unit": "kg"}
    ]


def test_what_the_file_says_besides_is_carried_along() -> None:
    read = {
        "pattern": "x",
        "sensor_field": "id",
        "every": "60 s",
        "values": [{"field": "t", "optional": False}],
    }
    table = table_of(replace(KILN, read=read), rows_of(KILN), Form({}))
    assert (table["sensor_field"], table["every"], table["pattern"]) == ("id", "60 s", "attic/kiln")
    assert "sensor" not in table
    assert "optional" not in table["values"][0]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"sensor": "kiln", "meaning-0": "", "meaning-1": ""}, "No number of this message is to be read."),
        ({"sensor": "", "meaning-0": "weight|kg"}, "“Name of the sensor” is empty."),
    ],
)
def test_what_cannot_be(fields: dict[str, str], words: str) -> None:
    form = Form(fields)
    with pytest.raises(BadInput, match=words):
        table_of(KILN, rows_of(KILN, form), form)


def test_every_meaning_is_a_quantity_with_a_unit_of_it() -> None:
    assert set(QUANTITIES) == set(DIMENSIONS)
    for meaning in MEANINGS:
        quantity, _, unit = meaning.partition("|")
        assert convert(1.0, unit, DIMENSIONS[Quantity(quantity)]) is not None


def test_a_unit_that_only_the_file_knows_can_stay() -> None:
    kelvin = replace(KILN, guesses=(Guess("t", "294", Quantity.AIR_TEMPERATURE, "K"),))
    assert ("air_temperature|K", "air_temperature K") in meanings(rows_of(kelvin))


@pytest.mark.parametrize(("meaning", "air"), [("air_speed|m/s", True), ("weight|kg", False), ("", False)])
def test_what_says_something_of_a_room(meaning: str, air: bool) -> None:
    form = Form({"meaning-0": meaning, "meaning-1": ""})
    assert of_air(rows_of(KILN, form)) is air


class TestDecodedLine:
    def line(self, tried: Tried, units: Units = Units.METRIC) -> str:
        return decoded_line(tried, replace(SALTMARSH, units=units))

    def test_in_the_persons_units_and_as_it_is_kept(self) -> None:
        warm = Tried("kiln", Quantity.AIR_TEMPERATURE, "t", 294.55, True)
        assert self.line(warm) == "21.4 °C, air temperature; plausible. Kept as 294.55 K."
        assert self.line(warm, Units.US) == "71 °F, air temperature; plausible. Kept as 294.55 K."

    def test_a_share_needs_no_other_unit(self) -> None:
        damp = Tried("kiln", Quantity.RELATIVE_HUMIDITY, "h", 0.48, True)
        assert self.line(damp) == "48 %, humidity; plausible."

    def test_implausible(self) -> None:
        hot = Tried("kiln", Quantity.AIR_TEMPERATURE, "t", 487.15, False, "It cannot be.")
        assert self.line(hot) == "214.0 °C, air temperature: implausible. Is the unit right?"

    def test_not_to_be_read(self) -> None:
        assert (
            self.line(Tried(None, None, "t", None, False, "It is no number."))
            == "Cannot be read: It is no number."
        )


@pytest.mark.parametrize(
    ("every_s", "words"),
    [
        (None, "Came once so far."),
        (0.2, "Comes about every 1 s."),
        (89.4, "Comes about every 89 s."),
        (90.0, "Comes about every 2 min."),
        (300.0, "Comes about every 5 min."),
    ],
)
def test_how_often(every_s: float | None, words: str) -> None:
    assert often_line(every_s) == words
