"""What a humidity allows: equilibrium water, and the humidity a limit asks for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.isotherm import Gab
from service.drying.readiness import (
    coat_needs_below_humidity,
    equilibrium_saturation,
    equilibrium_water_share,
    shell_needs_below_humidity,
)
from service.drying.shell import Coat

GAB = Gab()
PRIME, BACKUP = Coat(0.6e-3), Coat(1.1e-3)
SHELL = (PRIME, PRIME, *[BACKUP] * 6)
COATS = st.builds(
    Coat,
    thickness_m=st.floats(0.2e-3, 3e-3),
    porosity=st.floats(0.05, 0.4),
    dry_density_kg_m3=st.floats(1200.0, 2600.0),
)


def test_two_percent_asks_for_air_below_sixty_one() -> None:
    assert shell_needs_below_humidity(0.02, SHELL, GAB) == pytest.approx(0.611, abs=0.0005)


def test_the_default_coat_can_reach_its_next_dip_in_any_workable_room() -> None:
    assert coat_needs_below_humidity(0.35, BACKUP, GAB) == pytest.approx(0.901, abs=0.0005)


def test_equal_stuff_asks_for_the_isotherms_own_activity() -> None:
    assert shell_needs_below_humidity(0.02, SHELL, GAB) == pytest.approx(float(GAB.activity(np.array(0.02))))


def test_at_the_border_the_limit_is_just_met_and_above_it_is_not() -> None:
    border = shell_needs_below_humidity(0.02, SHELL, GAB)
    assert equilibrium_water_share(border, SHELL, GAB) <= 0.02
    assert equilibrium_water_share(border + 1e-9, SHELL, GAB) > 0.02


@given(coat=COATS, humidity=st.floats(0.0, 1.0))
def test_saturation_stays_between_dry_and_full(coat: Coat, humidity: float) -> None:
    assert 0.0 <= equilibrium_saturation(humidity, coat, GAB) <= 1.0


@given(coat=COATS, limit=st.floats(0.01, 0.99))
def test_a_coat_left_at_its_border_humidity_ends_at_its_limit(coat: Coat, limit: float) -> None:
    border = coat_needs_below_humidity(limit, coat, GAB)
    held = float(equilibrium_saturation(border, coat, GAB))
    assert held == pytest.approx(limit, rel=1e-9) if border < 1.0 else held <= limit


@given(coats=st.lists(COATS, min_size=1, max_size=9), limit=st.floats(0.001, 0.12))
def test_a_shell_left_at_its_border_humidity_ends_at_its_limit(coats: list[Coat], limit: float) -> None:
    border = shell_needs_below_humidity(limit, coats, GAB)
    held = float(equilibrium_water_share(border, coats, GAB))
    assert held == pytest.approx(limit, rel=1e-9) if border < 1.0 else held <= limit


@given(coats=st.lists(COATS, min_size=1, max_size=9))
def test_damper_air_leaves_more_water(coats: list[Coat]) -> None:
    shares = equilibrium_water_share(np.linspace(0.0, 1.0, 50), coats, GAB)
    assert shares[0] == 0.0
    assert np.all(np.diff(shares) >= 0.0)


def test_tight_pores_hold_no_more_than_fills_them() -> None:
    tight = Coat(1e-3, porosity=0.05)
    assert equilibrium_saturation(1.0, tight, GAB) == 1.0
    assert equilibrium_water_share(1.0, [tight], GAB) == pytest.approx(0.05 * 998 / 1650)


def test_a_limit_above_all_pores_is_met_at_any_humidity() -> None:
    assert shell_needs_below_humidity(0.5, SHELL, GAB) == 1.0
    assert coat_needs_below_humidity(1.0, BACKUP, GAB) == 1.0


def test_no_water_at_all_needs_bone_dry_air() -> None:
    assert shell_needs_below_humidity(0.0, SHELL, GAB) == 0.0


def test_a_heavier_dry_coat_holds_more_gel_water_a_pore() -> None:
    light, heavy = Coat(1e-3, dry_density_kg_m3=1500.0), Coat(1e-3, dry_density_kg_m3=2400.0)
    assert coat_needs_below_humidity(0.35, heavy, GAB) < coat_needs_below_humidity(0.35, light, GAB)


def test_thickness_alone_changes_nothing() -> None:
    thin, thick = coat_needs_below_humidity(0.35, PRIME, GAB), coat_needs_below_humidity(0.35, BACKUP, GAB)
    assert thin == thick


def test_shapes_follow_the_humidity() -> None:
    assert equilibrium_saturation(np.full((2, 3), 0.5), BACKUP, GAB).shape == (2, 3)
    assert equilibrium_water_share(np.full((2, 3), 0.5), SHELL, GAB).shape == (2, 3)


def test_a_shell_without_coats_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="at least one coat"):
        equilibrium_water_share(0.5, [], GAB)
