"""How sure an hour is, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service import words
from service.records.shop_facts import Site
from service.room.views import MouldNow
from service.units import Units
from tests.service.alerts.scene import NOW, minutes, mould

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = Site("Yard", 4.0, "America/New_York", Units.US)
DUE = NOW + minutes(90)  # 15:50
INSTANT = timedelta(microseconds=1)


def sure(late_in: timedelta | None) -> MouldNow:
    return mould(due_at=DUE, due_late_at=None if late_in is None else DUE + late_in)


def said(late_in: timedelta | None, site: Site | None = SITE) -> str | None:
    return words.due_range(sure(late_in), site, NOW)


@pytest.mark.parametrize(
    ("late_in", "expected"),
    [
        (minutes(50), "surely by 16:40"),
        (minutes(50) + INSTANT, "surely by 16:45"),
        (minutes(54.9), "surely by 16:45"),
        (minutes(5), "surely by 15:55"),
        (timedelta(days=1), "surely by Tue 15:50"),
    ],
)
def test_up_to_the_next_five_minutes(late_in: timedelta, expected: str) -> None:
    assert said(late_in) == expected


def test_as_good_as_the_hour_itself() -> None:
    assert said(minutes(5) - INSTANT) is None
    assert said(minutes(0)) is None


def test_not_known() -> None:
    assert said(None) is None
    assert words.due_range(replace(sure(minutes(50)), due_at=None), SITE, NOW) is None


def test_on_the_shops_own_clock() -> None:
    assert said(minutes(50), US) == "surely by 11:40 am"
