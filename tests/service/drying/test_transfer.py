"""From air to face: limits, directions and shapes. Outside numbers are in tests/physics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying import air, transfer

P = 101325.0
ROOM = 294.15
TEMPERATURE = st.floats(263.15, 313.15)
SPEED = st.floats(0.0, 5.0)
LENGTH = st.floats(0.02, 1.0)


# --- convection ---


@given(warm=TEMPERATURE, cold=TEMPERATURE, height=LENGTH)
def test_still_air_does_not_mind_which_side_is_colder(warm: float, cold: float, height: float) -> None:
    one = float(transfer.natural_convection_w_m2_k(warm, cold, height, P))
    other = float(transfer.natural_convection_w_m2_k(cold, warm, height, P))
    assert one == pytest.approx(other, rel=1e-12)


def test_still_air_carries_more_when_the_face_is_colder() -> None:
    heat = transfer.natural_convection_w_m2_k(ROOM, ROOM - np.array([1.0, 2.0, 5.0, 10.0]), 0.4, P)
    assert np.all(np.diff(heat) > 0.0)


def test_below_a_fifth_of_a_degree_the_draught_is_kept() -> None:
    none, edge, more = transfer.natural_convection_w_m2_k(ROOM, ROOM - np.array([0.0, 0.2, 0.4]), 0.4, P)
    assert none == pytest.approx(edge, rel=1e-3)
    assert more > 1.1 * edge


def test_a_tall_face_has_a_thicker_draught() -> None:
    heat = transfer.natural_convection_w_m2_k(ROOM, ROOM - 4.0, np.array([0.05, 0.2, 0.8]), P)
    assert np.all(np.diff(heat) < 0.0)


def test_thin_air_carries_less_heat() -> None:
    assert transfer.natural_convection_w_m2_k(ROOM, ROOM - 4, 0.4, 80e3) < (
        transfer.natural_convection_w_m2_k(ROOM, ROOM - 4, 0.4, P)
    )
    assert transfer.forced_convection_w_m2_k(ROOM, 1.0, 0.3, 80e3) < (
        transfer.forced_convection_w_m2_k(ROOM, 1.0, 0.3, P)
    )


def test_air_at_rest_leaves_conduction_round_a_cylinder() -> None:
    """Churchill and Bernstein: Nu = 0.3 at Re = 0."""
    heat = float(transfer.forced_convection_w_m2_k(ROOM, 0.0, 0.3, P))
    assert heat == pytest.approx(0.3 * float(air.conductivity_w_m_k(ROOM)) / 0.3, rel=1e-12)


def test_a_fan_always_helps() -> None:
    heat = transfer.forced_convection_w_m2_k(ROOM, np.linspace(0.0, 5.0, 51), 0.3, P)
    assert np.all(np.diff(heat) > 0.0)


def test_a_slim_sprue_feels_the_fan_more_than_a_broad_bell() -> None:
    assert transfer.forced_convection_w_m2_k(ROOM, 1.0, 0.02, P) > transfer.forced_convection_w_m2_k(
        ROOM, 1.0, 0.4, P
    )


@given(warm=TEMPERATURE, cold=TEMPERATURE, speed=SPEED, height=LENGTH, width=LENGTH)
def test_both_together_lie_between_the_larger_and_the_sum(
    warm: float, cold: float, speed: float, height: float, width: float
) -> None:
    still = float(transfer.natural_convection_w_m2_k(warm, cold, height, P))
    moving = float(transfer.forced_convection_w_m2_k(warm, speed, width, P))
    both = float(transfer.convection_w_m2_k(warm, cold, speed, height, width, P))
    assert max(still, moving) <= both * (1 + 1e-12)
    assert both <= 2.0 ** (1 / 3) * max(still, moving) * (1 + 1e-12)


def test_at_rest_and_in_a_gale_one_of_the_two_decides() -> None:
    still = float(transfer.natural_convection_w_m2_k(ROOM, ROOM - 5, 0.4, P))
    assert transfer.convection_w_m2_k(ROOM, ROOM - 5, 0.0, 0.4, 0.3, P) == pytest.approx(still, rel=1e-3)
    gale = float(transfer.forced_convection_w_m2_k(ROOM, 20.0, 0.3, P))
    assert transfer.convection_w_m2_k(ROOM, ROOM - 5, 20.0, 0.4, 0.3, P) == pytest.approx(gale, rel=1e-3)


# --- radiation ---


def test_radiation_is_the_slope_of_the_fourth_power_law() -> None:
    warm, cold = 296.15, 286.15
    exact = 0.9 * transfer.STEFAN_BOLTZMANN_W_M2_K4 * (warm**4 - cold**4)
    assert float(transfer.radiation_w_m2_k(291.15)) * (warm - cold) == pytest.approx(exact, rel=5e-4)


def test_a_black_face_radiates_more_than_a_grey_one() -> None:
    assert transfer.radiation_w_m2_k(ROOM, 1.0) == pytest.approx(transfer.radiation_w_m2_k(ROOM) / 0.9)


# --- vapour ---


@given(film=TEMPERATURE, heat=st.floats(1.0, 100.0))
def test_heat_and_vapour_keep_to_the_lewis_relation(film: float, heat: float) -> None:
    """For water in air h / (k rho cp) = Le^(2/3) is near 0.9 (ASHRAE HoF 2017 ch. 6 puts Le near 0.85)."""
    speed = float(transfer.mass_transfer_m_s(heat, film, P))
    ratio = heat / (speed * float(air.density_kg_m3(film, P)) * 1006.0)
    assert ratio == pytest.approx(0.9, abs=0.03)


def test_twice_the_heat_transfer_is_twice_the_vapour_transfer() -> None:
    one, two = transfer.mass_transfer_m_s(np.array([10.0, 20.0]), ROOM, P)
    assert two == pytest.approx(2 * one, rel=1e-14)


# --- pocket ---


def test_no_pocket_adds_nothing() -> None:
    assert transfer.pocket_resistance_s_m(0.0, 0.04, True, ROOM, P) == 0.0


def test_a_dish_as_deep_as_wide_adds_nothing_and_one_hair_deeper_does() -> None:
    depth = np.array([0.04, np.nextafter(0.04, 1.0)])
    dish, hair = transfer.pocket_resistance_s_m(depth, 0.04, True, ROOM, P)
    assert dish == 0.0
    assert hair > 0.0


def test_resistance_by_hand() -> None:
    """80 mm deep, 40 mm wide, round: (4 * 2 + 1) * 0.02 / (8 D)."""
    by_hand = 9.0 * 0.02 / (8.0 * float(air.vapour_diffusivity_m2_s(ROOM, P)))
    assert transfer.pocket_resistance_s_m(0.08, 0.04, True, ROOM, P) == pytest.approx(by_hand, rel=1e-12)


def test_a_slot_breathes_more_freely_than_a_hole() -> None:
    hole, slot = transfer.pocket_resistance_s_m(0.08, 0.04, np.array([True, False]), ROOM, P)
    assert slot / hole == pytest.approx(5.0 / 9.0, rel=1e-12)


@given(width=st.floats(0.005, 0.1), ratio=st.floats(1.1, 6.0))
def test_deeper_or_narrower_is_worse(width: float, ratio: float) -> None:
    depth = width * ratio
    plain, deeper = transfer.pocket_resistance_s_m(np.array([depth, 1.1 * depth]), width, True, ROOM, P)
    narrower = float(transfer.pocket_resistance_s_m(depth, width / 1.1, True, ROOM, P))
    assert deeper > plain
    assert narrower > plain


def test_stirring_divides_the_resistance() -> None:
    still = float(transfer.pocket_resistance_s_m(0.08, 0.04, True, ROOM, P, stirring=1.0))
    stirred = float(transfer.pocket_resistance_s_m(0.08, 0.04, True, ROOM, P))
    assert still == pytest.approx(8.0 * stirred, rel=1e-12)


# --- wet face, dry face ---


def test_a_wet_face_dries_as_fast_as_heat_reaches_it() -> None:
    assert transfer.constant_rate_kg_m2_s(20.0, 294.15, 287.15, 2.45e6) == pytest.approx(140.0 / 2.45e6)


def test_in_saturated_air_nothing_leaves() -> None:
    assert transfer.constant_rate_kg_m2_s(20.0, ROOM, ROOM) == 0.0


def test_recovery_is_nought_at_the_wet_bulb_and_one_at_the_airs_own() -> None:
    face = np.array([287.15, 290.65, 294.15])
    assert transfer.surface_recovery(face, 294.15, 287.15) == pytest.approx([0.0, 0.5, 1.0])


def test_recovery_means_nothing_in_saturated_air() -> None:
    recovery = transfer.surface_recovery(np.array([290.0, 290.0]), 294.15, np.array([294.15, 287.0]))
    assert np.isnan(recovery[0])
    assert recovery[1] == pytest.approx(3.0 / 7.15)


# --- shapes and gaps ---


def test_zones_in_a_row_are_reckoned_at_once_as_one_by_one() -> None:
    surface = np.array([285.0, 288.0, 293.0])
    height, width = np.array([0.1, 0.4, 1.0]), np.array([0.02, 0.3, 0.5])
    together = transfer.convection_w_m2_k(ROOM, surface, 0.6, height, width, P)
    alone = [
        float(transfer.convection_w_m2_k(ROOM, *zone, P))
        for zone in zip(surface, [0.6] * 3, height, width, strict=True)
    ]
    assert together.tolist() == pytest.approx(alone, rel=1e-14)
    assert together.dtype == np.float64


def test_a_missing_reading_stays_missing_and_spares_the_neighbour() -> None:
    heat = transfer.convection_w_m2_k(np.array([np.nan, ROOM]), 288.0, 0.6, 0.4, 0.3, P)
    assert np.isnan(heat[0])
    assert heat[1] == transfer.convection_w_m2_k(ROOM, 288.0, 0.6, 0.4, 0.3, P)


def test_single_precision_stays_single_and_keeps_five_digits() -> None:
    surface, height = np.array([285.0, 288.0, 293.9]), np.array([0.1, 0.4, 1.0])
    double, single = (
        transfer.film(np.full(3, ROOM, kind), surface.astype(kind), np.full(3, P, kind))
        for kind in (np.float64, np.float32)
    )
    natural = transfer.natural_in_w_m2_k(double, ROOM - surface, height)
    found = transfer.natural_in_w_m2_k(single, (ROOM - surface).astype(np.float32), height.astype(np.float32))
    assert found.dtype == np.float32
    assert found == pytest.approx(natural, rel=1e-5)
    mass = transfer.mass_in_m_s(single, found)
    assert mass.dtype == np.float32
    assert mass == pytest.approx(transfer.mass_in_m_s(double, natural), rel=1e-5)


def test_what_is_known_of_the_film_already_changes_nothing() -> None:
    between = transfer.film(ROOM, 288.0, P)
    assert transfer.natural_in_w_m2_k(between, np.array(ROOM - 288.0), 0.4) == pytest.approx(
        transfer.natural_convection_w_m2_k(ROOM, 288.0, 0.4, P), rel=1e-14
    )
    assert transfer.mass_in_m_s(between, 5.0) == pytest.approx(
        transfer.mass_transfer_m_s(5.0, 0.5 * (ROOM + 288.0), P), rel=1e-14
    )
