"""Air and sensors in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from service import words
from service.room.views import Freshness
from service.units import Units
from tests.service.alerts.scene import (
    NOW,
    SITE,
    minutes,
    room,
    sensor,
    silent,
)

US = replace(SITE, units=Units.US, time_zone="America/New_York")


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({}, "22.0 °C, 55 %, air 0.2 m/s (assumed)"),
        ({"speed_measured": True, "speed_m_s": 0.6}, "22.0 °C, 55 %, air 0.6 m/s"),
        ({"speed_m_s": None}, "22.0 °C, 55 %"),
        (
            {"freshness": Freshness.STALE, "last_good": NOW - minutes(40)},
            "22.0 °C, 55 %, air 0.2 m/s (assumed), 40 min ago",
        ),
        ({"freshness": Freshness.STALE, "last_good": None}, "22.0 °C, 55 %, air 0.2 m/s (assumed)"),
        ({"temperature_k": None}, "No air measured yet"),
        ({"humidity": None}, "No air measured yet"),
    ],
)
def test_air_says_what_is_measured_what_assumed_and_how_old(changes: dict[str, Any], line: str) -> None:
    assert words.air_line(room(**changes), SITE, NOW) == line


@pytest.mark.parametrize(
    ("freshness", "last_good", "line"),
    [
        (Freshness.FRESH, NOW - minutes(0.9), "Air measured just now"),
        (Freshness.FRESH, NOW - minutes(1), "Air measured 1 min ago"),
        (Freshness.LATE, NOW - minutes(12), "Last reading 12 min ago: late"),
        (Freshness.STALE, NOW - minutes(40), "No reading since 13:40: guessing from the last air"),
        (Freshness.NEVER, None, "No reading yet: nothing to reckon with"),
    ],
)
def test_every_screen_says_how_old_its_air_is(
    freshness: Freshness, last_good: datetime | None, line: str
) -> None:
    assert words.freshness_line(room(freshness=freshness, last_good=last_good), SITE, NOW) == line


def test_guessing() -> None:
    line = "No reading for 40 min: guessing from the last air"
    assert words.guessing_line(NOW - minutes(40), NOW) == line
    assert words.guessing_line(None, NOW) is None


@pytest.mark.parametrize(
    ("swing", "prime", "line"),
    [
        (1.7, True, None),
        (1.71, True, "Swung 1.71 °C with prime coats on: hold it within 1.70 °C"),
        (2.1, True, "Swung 2.1 °C with prime coats on: hold it within 1.7 °C"),
        (2.1, False, None),
        (None, True, None),
    ],
)
def test_a_swing_is_named_above_its_limit_only(swing: float | None, prime: bool, line: str | None) -> None:
    assert words.swing_line(room(swing_k=swing, prime_on=prime), SITE) == line


def test_a_swing_in_fahrenheit_is_a_difference() -> None:
    line = words.swing_line(room(swing_k=2.0, prime_on=True), US)
    assert line == "Swung 3.6 °F with prime coats on: hold it within 3.1 °F"


def test_sensors_say_what_they_heard_or_since_when_nothing() -> None:
    assert words.sensor_line(sensor(), SITE, NOW) == "bench: 20.7 °C, 45 %, 1 min ago"
    assert words.sensor_line(sensor(values=()), SITE, NOW) == "bench: 1 min ago"
    assert words.sensor_line(silent(), SITE, NOW) == "bench: silent since 13:40"
    mute = sensor(last_good=None, freshness=Freshness.NEVER, values=())
    assert words.sensor_line(mute, SITE, NOW) == "bench: nothing good heard yet"
    assert (
        words.sensor_line(replace(mute, old_values=True), SITE, NOW)
        == "bench: only an old value the broker kept"
    )
