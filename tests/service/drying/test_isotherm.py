"""The sorption isotherm: both ways, its slope and its ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.isotherm import Gab

ISOTHERMS = st.builds(Gab, monolayer=st.floats(0.002, 0.05), c=st.floats(2.0, 60.0), k=st.floats(0.6, 0.98))
ACTIVITY = np.linspace(0.0, 1.0, 201)


@given(isotherm=ISOTHERMS)
def test_there_and_back(isotherm: Gab) -> None:
    assert isotherm.activity(isotherm.water_content(ACTIVITY)) == pytest.approx(ACTIVITY, abs=1e-9)


@given(isotherm=ISOTHERMS)
def test_damper_air_always_holds_more_water(isotherm: Gab) -> None:
    assert np.all(np.diff(isotherm.water_content(ACTIVITY)) > 0.0)


@given(isotherm=ISOTHERMS)
def test_slope_is_the_derivative(isotherm: Gab) -> None:
    inner, step = ACTIVITY[1:-1], 1e-6
    rise = isotherm.water_content(inner + step) - isotherm.water_content(inner - step)
    assert isotherm.water_content_slope(inner) == pytest.approx(rise / (2 * step), rel=1e-5)


@given(isotherm=ISOTHERMS)
def test_wet_stuff_is_at_full_activity(isotherm: Gab) -> None:
    most = float(isotherm.water_content(np.array(1.0)))
    assert isotherm.activity(np.array([most * 1.001, most * 10.0])).tolist() == [1.0, 1.0]


def test_bone_dry_is_zero_both_ways() -> None:
    assert Gab().water_content(np.array(0.0)) == 0.0
    assert Gab().activity(np.array(0.0)) == 0.0


def test_less_than_no_water_counts_as_none() -> None:
    assert Gab().activity(np.array([-0.01])).tolist() == [0.0]


def test_the_formula_by_hand() -> None:
    """X = M0 C K a / [(1 - K a)(1 - K a + C K a)] at a = 0.5: 0.04275 / (0.525 * 5.275)."""
    assert Gab().water_content(np.array(0.5)) == pytest.approx(0.04275 / (0.525 * 5.275), rel=1e-12)


def test_at_low_humidity_it_is_a_straight_line() -> None:
    """Henry's law: X -> M0 C K a."""
    assert Gab().water_content_slope(np.array(0.0)) == pytest.approx(0.009 * 10.0 * 0.95, rel=1e-12)


def test_with_k_of_one_it_is_the_bet_form() -> None:
    """K = 1 and C = 2 leave X = 2 M0 a / [(1 - a)(1 + a)], the BET form (by hand, a = 0.6)."""
    bet = Gab(monolayer=0.01, c=2.0, k=1.0)
    assert bet.water_content(np.array(0.6)) == pytest.approx(2 * 0.01 * 0.6 / (0.4 * 1.6), rel=1e-12)


def test_the_monolayer_is_full_where_theory_says() -> None:
    """X = M0 at K a = 1 / (1 + sqrt C), the turning point of the BET form."""
    isotherm = Gab(c=16.0)
    full = 1.0 / (1.0 + 4.0) / isotherm.k
    assert isotherm.water_content(np.array(full)) == pytest.approx(isotherm.monolayer, rel=1e-12)
    assert isotherm.activity(np.array(isotherm.monolayer)) == pytest.approx(full, rel=1e-12)


def test_linear_isotherm_where_c_is_one() -> None:
    """C = 1 takes the quadratic term away: X = M0 K a / (1 - K a)."""
    isotherm = Gab(c=1.0)
    content = isotherm.water_content(ACTIVITY)
    assert content == pytest.approx(isotherm.monolayer * isotherm.k * ACTIVITY / (1 - isotherm.k * ACTIVITY))
    assert isotherm.activity(content) == pytest.approx(ACTIVITY, abs=1e-12)


def test_shapes_are_kept() -> None:
    grid = np.full((3, 4), 0.4)
    assert Gab().water_content(grid).shape == (3, 4)
    assert Gab().water_content_slope(grid).shape == (3, 4)
    assert Gab().activity(grid * 0.01).shape == (3, 4)
