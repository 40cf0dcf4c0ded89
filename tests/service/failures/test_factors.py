"""What is known of each shell."""

from __future__ import annotations

import math

import pytest

from service.failures.factors import YES_NO, has, known
from service.room.views import Factor
from tests.service.failures.making import shell


@pytest.mark.parametrize(("value", "yes"), [(0.0, False), (1.0, True), (3.0, True), (-2.0, False)])
def test_any_at_all_is_a_yes(value: float, yes: bool) -> None:
    assert has(value) is yes


@pytest.mark.parametrize("unknown", [None, math.nan, math.inf])
def test_what_is_not_known_is_left_out(unknown: float | None) -> None:
    shells = [
        shell(1, factors={Factor.TANK_AGE: 60.0}),
        shell(2, factors={Factor.TANK_AGE: unknown}),
    ]
    dots = known(shells)[Factor.TANK_AGE]
    assert {number: dot.value for number, dot in dots.items()} == {1: 60.0}
    assert dots[1].name == shells[0].name


def test_nothing_is_not_nought() -> None:
    assert known([shell(1, factors={Factor.LATE_DIPS: 0.0})])[Factor.LATE_DIPS][1].value == 0.0


def test_every_factor_has_its_place() -> None:
    assert set(known([])) == set(Factor)
    assert set(Factor) > YES_NO
