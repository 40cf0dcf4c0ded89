"""A tank's check in a line, in metric and in US units."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service import words
from service.records.facts import Fact, TankCheckBody
from service.room.views import TankNow
from service.units import Units
from tests.service.alerts.scene import NOW, SITE

US = replace(SITE, units=Units.US)
WHOLE = {
    "flow_s": 24.5,
    "temperature_k": 293.55,
    "density_kg_m3": 1650.0,
    "ph": 9.6,
    "water_added_kg": 0.4,
}


def check(**said: Any) -> TankCheckBody:
    return TankCheckBody(tank="grey", **said)


@pytest.mark.parametrize(
    ("body", "line"),
    [
        (check(**WHOLE), "Flow cup 24.5 s, 20.4 °C, 1.65 g/cm³, pH 9.6, 0.40 kg of water added"),
        (check(made_new=True, flow_s=22.0), "Made new, flow cup 22 s"),
        (check(ph=9.25), "pH 9.25"),
        (check(ph=7.0), "pH 7"),
        (check(temperature_k=293.15), "20.0 °C"),
        (check(text="foams"), ""),
    ],
)
def test_what_was_found(body: TankCheckBody, line: str) -> None:
    assert words.tank_check_words(body, SITE) == line


def test_in_the_units_of_the_shop() -> None:
    line = "Flow cup 24.5 s, 69 °F, 13.77 lb/gal, pH 9.6, 0.9 lb of water added"
    assert words.tank_check_words(check(**WHOLE), US) == line


def fact(body: TankCheckBody) -> Fact:
    return Fact(1, None, NOW - timedelta(hours=3, minutes=10), NOW, "bench 1", body, None, None, "")


def test_with_its_remark() -> None:
    assert words.tank_check_line(fact(check(flow_s=24.0, text="a little thick")), SITE) == (
        "Flow cup 24 s: a little thick"
    )
    assert words.tank_check_line(fact(check(text="foams")), SITE) == "foams"


def test_how_old() -> None:
    assert words.tank_age_line(TankNow("grey", ()), NOW) == "Never checked"
    tank = TankNow("grey", (fact(check(flow_s=24.0)),))
    assert words.tank_age_line(tank, NOW) == "Last checked 3 h 10 min ago"
