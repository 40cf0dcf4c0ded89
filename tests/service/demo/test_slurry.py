"""What a bench finds in the demo's tanks: the same for the same morning, and always something a tank can be."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest

from service.demo.slurry import NEW_EVERY, checked_at, mornings, slurry
from service.local_time import local
from service.records.shop_facts import Site
from service.units import Units

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
DAY = date(2026, 6, 10)
DAYS = [DAY + timedelta(days=i) for i in range(40)]


@pytest.mark.parametrize("tank", ["white", "grey", "third"])
def test_every_morning_says_something_and_the_same_again(tank: str) -> None:
    found = [slurry(tank, day) for day in DAYS]
    assert found == [slurry(tank, day) for day in DAYS]
    assert len({body.flow_s for body in found}) > 2
    assert all(body.ph and 9 < body.ph < 10 for body in found)


@pytest.mark.parametrize("tank", ["white", "grey"])
def test_it_is_made_new_every_twelve_days_and_made_up_between(tank: str) -> None:
    new = [day for day in DAYS if slurry(tank, day).made_new]
    assert [b - a for a, b in pairwise(new)] == [timedelta(days=NEW_EVERY)] * (len(new) - 1)
    for day in DAYS:
        body = slurry(tank, day)
        assert (body.water_added_kg is None) is body.made_new
        assert bool(body.text) is body.made_new


def test_an_old_slurry_is_thicker_than_a_new_one() -> None:
    new = next(day for day in DAYS if slurry("grey", day).made_new)
    fresh, old = slurry("grey", new), slurry("grey", new + timedelta(days=NEW_EVERY - 1))
    assert fresh.flow_s is not None
    assert old.flow_s is not None
    assert fresh.flow_s < old.flow_s
    assert (old.density_kg_m3 or 0) > (fresh.density_kg_m3 or 0)


def test_the_white_tank_is_thicker_than_the_grey() -> None:
    assert (slurry("white", DAY).flow_s or 0) > (slurry("grey", DAY).flow_s or 0) + 5


def test_tanks_are_checked_within_the_first_half_hour() -> None:
    for tank in ("white", "grey"):
        at = local(checked_at(tank, DAY, SITE), SITE)
        assert (at.hour, at.date()) == (7, DAY)
        assert 8 <= at.minute <= 28


def test_mornings_lie_within_the_time_asked_for_both_ends_included() -> None:
    at = checked_at("grey", DAY, SITE)
    tick = timedelta(microseconds=1)
    assert list(mornings(["grey"], at, at, SITE)) == [(at, "grey")]
    assert list(mornings(["grey"], at + tick, at + timedelta(hours=2), SITE)) == []
    assert list(mornings(["grey"], at - timedelta(hours=2), at - tick, SITE)) == []


def test_over_the_change_of_clocks_it_is_seven_on_the_wall() -> None:
    since = datetime(2026, 3, 27, tzinfo=UTC)
    found = list(mornings(["grey"], since, since + timedelta(days=5), SITE))
    assert [local(at, SITE).hour for at, _ in found] == [7] * 5
