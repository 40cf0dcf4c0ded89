"""What coats ask of a room's air, and since when it is not so."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.alerts.room_air import (
    Band,
    hanging,
    largest_swing_k,
    lasted,
    swung_at,
    true_since,
    under_prime,
    wanted_air,
    wrong_for,
)
from service.records.recipes import AirLimits
from service.records.shop_facts import Room
from service.room.views import Stage
from tests.service.alerts.scene import NOW, RECIPE, air, hours, minutes, mould, room


@pytest.mark.parametrize(
    ("value", "margin", "inside"),
    [
        (294.0, 0.0, True),
        (296.0, 0.0, True),
        (293.9, 0.0, False),
        (296.1, 0.0, False),
        (294.25, 0.25, True),
        (294.2, 0.25, False),
        (295.8, 0.25, False),
    ],
)
def test_a_band_takes_its_ends(value: float, margin: float, inside: bool) -> None:
    assert Band(294.0, 296.0).holds(value, margin) is inside


def test_an_open_end_holds_everything_on_that_side() -> None:
    assert Band(None, 0.6).holds(-1e9)
    assert Band(0.4, None).holds(1e9)
    assert Band(None, None).holds(0.0, margin=1e9)


@given(st.floats(0.1, 0.9), st.floats(0.0, 0.3), st.floats(0, 1))
def test_a_narrow_band_can_still_be_met_with_any_margin(low: float, width: float, margin: float) -> None:
    assert Band(low, low + width).holds(low + width / 2, margin)


def test_only_moulds_with_coats_on_in_this_room_ask_for_air() -> None:
    elsewhere = mould(room=Room(2, "Store"))
    moulds = [
        mould(),
        mould(0, stage=Stage.TO_DIP),
        mould(9, stage=Stage.ENDED),
        elsewhere,
        mould(9, stage=Stage.DRY),
    ]
    assert hanging(room(), moulds) == [moulds[0], moulds[4]]


def test_prime_is_prime_until_it_is_buried() -> None:
    moulds = [mould(coats) for coats in (1, 2, 3, 9)]
    assert under_prime(moulds) == moulds[:2]


def test_the_narrowest_limits_count() -> None:
    wanted = wanted_air([mould(1), mould(4)])  # prime: 21 to 23 degC, from 50 %; backup: to 60 %
    assert wanted.temperature == Band(294.15, 296.15)
    assert wanted.humidity == Band(0.5, 0.6)
    assert wanted.holds(295.15, 0.55)
    assert not wanted.holds(294.14, 0.55)
    assert not wanted.holds(295.15, 0.61)
    assert wanted_air([]).holds(1000.0, 9.0)


def test_the_least_swing_a_recipe_says_counts() -> None:
    strict = RECIPE.model_copy(update={"prime_air": AirLimits(largest_swing_k=1.0)})
    assert largest_swing_k([mould(1), mould(2, recipe=strict)], 1.7) == 1.0
    assert largest_swing_k([mould(1), mould(4, recipe=strict)], 1.7) == 1.7  # that prime is buried
    assert largest_swing_k([], 1.7) == 1.7


def test_a_run_begins_after_the_last_point_that_breaks_it() -> None:
    damp = air(humidity=0.8)
    assert true_since(damp, lambda p: p.humidity > 0.7) == NOW - hours(2)
    broken = [*damp[:-3], replace(damp[-3], humidity=0.6), *damp[-2:]]
    assert true_since(broken, lambda p: p.humidity > 0.7) == NOW - minutes(10)
    assert true_since(damp, lambda p: p.humidity > 0.8) is None
    assert true_since([], lambda _: True) is None


@pytest.mark.parametrize(
    ("ago", "has"),
    [(minutes(20), True), (minutes(20) - timedelta(microseconds=1), False), (minutes(60), True)],
)
def test_lasting_counts_from_the_exact_instant(ago: timedelta, has: bool) -> None:
    assert lasted(NOW - ago, NOW, 1200.0) is has
    assert not lasted(None, NOW, 0.0)


def test_a_swing_is_done_when_its_second_end_is_reached() -> None:
    points = list(air())
    points[2] = replace(points[2], temperature_k=290.0)
    points[7] = replace(points[7], temperature_k=297.0)
    assert swung_at(points, NOW - hours(24)) == points[7].at
    assert swung_at(points, points[8].at) == points[8].at  # both ends lie before the prime
    assert swung_at(points, NOW + hours(1)) is None


@pytest.mark.parametrize(
    ("kelvin", "humidity", "names"),
    [
        (295.15, 0.5, []),
        (295.15, 0.49, ["primed"]),
        (297.0, 0.55, ["primed"]),
        (295.15, 0.61, ["backed"]),
        (297.0, 0.61, ["primed", "backed"]),
    ],
)
def test_air_is_wrong_only_for_those_whose_coats_ask_otherwise(
    kelvin: float, humidity: float, names: list[str]
) -> None:
    moulds = [mould(1, name="primed"), mould(4, name="backed")]
    now = room(temperature_k=kelvin, humidity=humidity)
    assert [m.name for m in wrong_for(now, moulds)] == names


def test_air_never_measured_is_wrong_for_nobody() -> None:
    assert wrong_for(room(temperature_k=None, humidity=None), [mould(1)]) == []
