"""How long a forecast holds: a tenth of what it foretells, ten minutes to an hour, and not at all when it is near."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from service.drying.shell import ZoneShape
from service.drying.zone import ZoneState
from service.room.estimate import (
    FORECAST_HOLDS_LEAST_S,
    FORECAST_HOLDS_MOST_S,
    NEAR_S,
    Ahead,
    ZoneEstimate,
    _Kept,
)

NOW_S = 1_000_000.0
HOUR_S = 3600.0


def kept(in_s: float | None, age_s: float, ready_s: float | None = None) -> _Kept:
    """One zone that, by a forecast of this age, will be ready in so many seconds; its whole shell is dry already."""
    state = ZoneState(ZoneShape(0.3, 0.2), NOW_S, 294.0)
    foretold = None if in_s is None else NOW_S + in_s
    return _Kept((), (ZoneEstimate(state, ready_s, 0.0),), (Ahead(foretold, 0.0),), NOW_S - age_s)


def test_a_mould_without_a_forecast_needs_one() -> None:
    assert _Kept((), ()).needs_forecast(NOW_S)


@pytest.mark.parametrize(
    ("in_s", "holds_s"),
    [
        (NEAR_S, FORECAST_HOLDS_LEAST_S),
        (FORECAST_HOLDS_LEAST_S * 10, FORECAST_HOLDS_LEAST_S),
        (5 * HOUR_S, HOUR_S / 2),
        (10 * HOUR_S, FORECAST_HOLDS_MOST_S),
        (100 * HOUR_S, FORECAST_HOLDS_MOST_S),
        (None, FORECAST_HOLDS_MOST_S),
    ],
)
def test_it_holds_until_the_exact_second(in_s: float | None, holds_s: float) -> None:
    assert not kept(in_s, 0.0).needs_forecast(NOW_S)
    assert not kept(in_s, holds_s - 1.0).needs_forecast(NOW_S)
    assert kept(in_s, holds_s).needs_forecast(NOW_S)


def test_when_its_moment_is_near_it_is_made_anew_each_time() -> None:
    assert kept(math.nextafter(NEAR_S, 0.0) - 1e-3, 0.0).needs_forecast(NOW_S)
    assert not kept(NEAR_S, 0.0).needs_forecast(NOW_S)


def test_a_moment_that_passed_without_its_being_so_is_foretold_anew() -> None:
    assert kept(-60.0, 0.0).needs_forecast(NOW_S)


def test_what_is_reached_already_is_waited_for_no_more() -> None:
    assert not kept(-60.0, 0.0, ready_s=NOW_S - 60.0).needs_forecast(NOW_S)


def test_a_forecast_from_the_future_does_not_count() -> None:
    assert kept(5 * HOUR_S, -1.0).needs_forecast(NOW_S)


def test_in_other_air_it_does_not_hold() -> None:
    """Hung in another room, or measured again after a silence."""
    made = replace(kept(5 * HOUR_S, 0.0), ahead_in=(1, True))
    assert not made.needs_forecast(NOW_S, (1, True))
    assert made.needs_forecast(NOW_S, (1, False))
    assert made.needs_forecast(NOW_S, (2, True))
