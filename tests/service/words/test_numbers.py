"""Numbers with their units."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from service import words
from service.reading import Quantity
from service.records.shop_facts import Site
from service.units import Dimension, Units, parse
from tests.service.alerts.scene import (
    SITE,
)

US = replace(SITE, units=Units.US, time_zone="America/New_York")


@pytest.mark.parametrize(("m_s", "site", "text"), [(0.2, SITE, "0.2 m/s"), (0.2, US, "39.37 ft/min")])
def test_a_speed_to_be_changed_is_not_rounded_away(m_s: float, site: Site, text: str) -> None:
    assert words.exact_speed(m_s, site) == text
    assert parse(text, Dimension.SPEED) == pytest.approx(m_s, rel=1e-4)


@pytest.mark.parametrize("quantity", Quantity)
@pytest.mark.parametrize("units", Units)
def test_every_quantity_has_a_unit(quantity: Quantity, units: Units) -> None:
    shown = words.quantity_value(quantity, 0.5, replace(SITE, units=units))
    assert re.fullmatch(r"-?[\d.]+ \S+", shown)


def test_numbers_carry_their_units() -> None:
    assert words.length(0.0011, SITE) == "1.1 mm"
    assert words.mass(4.2, SITE) == "4.20 kg"
    assert words.temperature_range((291.35, 294.55), SITE) == "18.2 to 21.4 °C"
    assert words.temperature_range((291.35, 291.36), SITE) == "18.2 °C"
    assert words.humidity_range((0.45, 0.62)) == "45 to 62 %"


@pytest.mark.parametrize(
    ("kelvin", "site", "text"), [(291.55, SITE, "18.4"), (293.15, US, "68"), (290.372222, US, "63")]
)
def test_a_temperature_to_be_changed_comes_without_its_unit(kelvin: float, site: Site, text: str) -> None:
    assert words.bare_temperature(kelvin, site) == text
