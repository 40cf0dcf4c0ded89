"""What a scale shows, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service import words
from service.room.scales import ScaleNow
from service.units import Units
from tests.service.alerts.scene import NOW, SITE

STILL = ScaleNow("hoist", 14.2, NOW, 3.4, True, 14.18, 14.21, 4)


def test_its_weight_in_the_units_of_whoever_looks() -> None:
    assert words.scale_line(STILL, SITE) == "14.20 kg"
    assert words.scale_line(STILL, replace(SITE, units=Units.US)) == "31.3 lb"


@pytest.mark.parametrize(
    ("age_s", "said"),
    [
        (3.4, "told 3 s ago"),
        (-0.5, "told 0 s ago"),
        (59.9, "told 59 s ago"),
        (60, "told 1 min ago"),
        (3700, "told 1 h 1 min ago"),
    ],
)
def test_how_old_it_is(age_s: float, said: str) -> None:
    assert words.scale_age(replace(STILL, age_s=age_s)) == said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "Holds still."),
        ({"count": 1}, "One reading so far: look whether it hangs still."),
        ({"lowest_kg": 13.9}, "Swings between 13.90 kg and 14.21 kg: wait."),
        ({"fresh": False}, "That may be of another mould: hang this one on it and wait."),
    ],
)
def test_whether_it_holds_still(changes: dict[str, float], said: str) -> None:
    assert words.still_line(replace(STILL, **changes), SITE) == said  # type: ignore[arg-type]


def test_a_line_of_the_record_names_the_scale() -> None:
    assert words.weighed_line(14.2, None, SITE) == "Weighed 14.20 kg"
    assert words.weighed_line(14.2, "hoist", SITE) == "Weighed 14.20 kg by the scale “hoist”"
