"""What a scale shows, and when its reading can be kept. The limits are this project's own choice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import pytest

from service.reading import Freshness, Quantity, Reading
from service.room.scales import MOST_AGE, STILL_FOR, ScaleNow, check_scale, scale_names, scale_now
from service.room.views import SensorNow
from tests.service.room.cases import T0, minutes, refused

INSTANT = timedelta(microseconds=1)


def told(*ago_and_kg: tuple[timedelta, float]) -> list[Reading]:
    return [Reading("hoist", Quantity.WEIGHT, kg, T0 - ago, T0) for ago, kg in ago_and_kg]


def scale(*ago_and_kg: tuple[timedelta, float]) -> ScaleNow:
    found = scale_now("hoist", told(*ago_and_kg), T0)
    assert found is not None
    return found


NOTHING = timedelta(0)


def test_the_newest_reading_is_what_it_shows() -> None:
    found = scale((minutes(1), 9.0), (timedelta(seconds=3), 14.2))
    assert (found.mass_kg, found.age_s, found.fresh, found.count) == (14.2, 3.0, True, 1)


@pytest.mark.parametrize("readings", [(), told((-minutes(1), 14.2))])
def test_nothing_told_yet(readings: Sequence[Reading]) -> None:
    assert scale_now("hoist", readings, T0) is None
    with refused("scale_silent"):
        check_scale(None, "hoist")


@pytest.mark.parametrize(("age", "kept"), [(NOTHING, True), (MOST_AGE, True), (MOST_AGE + INSTANT, False)])
def test_an_old_reading_may_be_of_another_mould(age: timedelta, kept: bool) -> None:
    found = scale((age, 14.2))
    assert found.fresh is kept
    if kept:
        assert check_scale(found, "hoist") is found
    else:
        with refused("scale_silent"):
            check_scale(found, "hoist")


@pytest.mark.parametrize(
    ("before", "kg", "still"),
    [(20.0, 20.1, True), (20.0, 20.11, False), (0.5, 0.519, True), (0.5, 0.521, False), (9.0, 20.0, False)],
)
def test_it_must_hold_still(before: float, kg: float, still: bool) -> None:
    """A half per cent of what hangs there, or 20 g."""
    found = scale((timedelta(seconds=10), before), (NOTHING, kg))
    assert found.still is still
    if not still:
        with refused("scale_swings"):
            check_scale(found, "hoist")


@pytest.mark.parametrize(("ago", "count"), [(STILL_FOR, 2), (STILL_FOR + INSTANT, 1)])
def test_what_came_long_before_says_nothing_of_now(ago: timedelta, count: int) -> None:
    assert scale((ago, 2.0), (NOTHING, 14.2)).count == count


@pytest.mark.parametrize("kg", [0.0, -0.4])
def test_an_empty_hook_weighs_no_mould(kg: float) -> None:
    with refused("scale_empty"):
        check_scale(scale((NOTHING, kg)), "hoist")


def test_scales_are_the_sensors_that_told_a_weight() -> None:
    def sensor(name: str, quantity: Quantity, ago: float, freshness: Freshness) -> SensorNow:
        at = T0 - minutes(ago)
        return SensorNow(name, None, freshness, at, ((quantity, 1.0, at),))

    sensors = [
        sensor("bench scale", Quantity.WEIGHT, 9, Freshness.STALE),
        sensor("wall", Quantity.AIR_TEMPERATURE, 1, Freshness.FRESH),
        sensor("hoist", Quantity.WEIGHT, 1, Freshness.FRESH),
        sensor("old", Quantity.WEIGHT, 1, Freshness.NEVER),
    ]
    assert scale_names(sensors) == ["hoist", "bench scale"]
