"""Numbers that bring their unit along."""

from __future__ import annotations

import pytest

from sensors.declared import UNITS as KNOWN
from sensors.text_units import SPELLED, split, unit_spelled
from service.units import registry


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("21.4 °C", "21.4", "degC"),
        ("21.4°C", "21.4", "degC"),
        ("70F", "70", "degF"),
        (" -3.5 degc ", "-3.5", "degC"),
        ("48.2 %RH", "48.2", "%"),
        ("48%", "48", "%"),
        ("1013 mbar", "1013", "hPa"),
        ("29.92 inHg", "29.92", "inHg"),
        ("8421 g", "8421", "g"),
        ("1e3 g", "1e3", "g"),
        ("9 lbs", "9", "lb"),
        (".5 m/s", ".5", "m/s"),
    ],
)
def test_a_number_and_its_unit(text: str, number: str, unit: str) -> None:
    assert split(text) == (number, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "21.4",
        "°C",
        "21.4 apples",
        "21 °C 48 %",
        "21,4 °C",
        "21.4 9**9**9",
        "1 g" + "x" * 20,
        "nan °C",
        "21.4 5",
        "1" * 500_000 + "!!",  # no work, however long
    ],
)
def test_what_is_none(text: str) -> None:
    assert split(text) is None


def test_spelled_in_any_case() -> None:
    assert unit_spelled("°c") == unit_spelled(" °C ") == "degC"
    assert unit_spelled("furlong") is None


def test_every_unit_is_one_that_can_be_declared() -> None:
    assert len(KNOWN) == 5
    assert all(registry.Unit(unit.replace("%", "percent")) for unit in SPELLED)
