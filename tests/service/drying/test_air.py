"""Moist air: shapes, borders, limits and round trips. Outside numbers are in tests/physics."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying import air
from service.drying.isotherm import Array

ROOM_K = st.floats(233.15, 333.15)
HUMIDITY = st.floats(0.02, 1.0)
PRESSURE_PA = st.floats(70e3, 108e3)


def k(celsius: float) -> float:
    return celsius + 273.15


# --- pressure of the place ---


def test_standard_pressure_at_the_sea_is_one_atmosphere() -> None:
    assert air.standard_pressure_pa(0.0) == pytest.approx(101325.0, abs=1e-9)


def test_standard_pressure_falls_with_height_and_rises_below_the_sea() -> None:
    pressure = air.standard_pressure_pa(np.array([-400.0, 0.0, 500.0, 3000.0]))
    assert np.all(np.diff(pressure) < 0.0)


# --- saturation pressure ---


def test_saturation_at_zero_is_taken_over_water_and_just_below_over_ice() -> None:
    at, below = air.saturation_pressure_pa(np.array([273.15, np.nextafter(273.15, 0.0)]))
    assert at == pytest.approx(611.213, abs=5e-4)
    assert below == pytest.approx(611.154, abs=5e-4)


def test_water_and_ice_meet_at_zero_within_a_hundredth_of_a_percent() -> None:
    below, at = air.saturation_pressure_pa(np.array([273.15 - 1e-9, 273.15]))
    assert at == pytest.approx(below, rel=1e-4)


def test_a_mixed_array_gives_the_same_as_one_by_one() -> None:
    temperatures = np.array([250.0, 273.15, 260.0, 294.15])
    together = air.saturation_pressure_pa(temperatures)
    assert together.tolist() == [float(air.saturation_pressure_pa(t)) for t in temperatures]


def test_warm_air_alone_takes_the_short_way_with_the_same_result() -> None:
    warm = np.linspace(274.0, 320.0, 7)
    with_frost = air.saturation_pressure_pa(np.append(warm, 250.0))[:-1]
    assert air.saturation_pressure_pa(warm).tolist() == with_frost.tolist()


def test_saturation_always_rises_with_temperature() -> None:
    assert np.all(np.diff(air.saturation_pressure_pa(np.linspace(173.15, 400.0, 5000))) > 0.0)


def test_ice_holds_less_vapour_than_undercooled_water_would() -> None:
    frost = np.linspace(233.15, 273.0, 50)
    assert np.all(air.saturation_pressure_pa(frost) < air._over_water_pa(frost))


def test_a_missing_temperature_stays_missing() -> None:
    pressure = air.saturation_pressure_pa(np.array([np.nan, 293.15]))
    assert np.isnan(pressure[0])
    assert pressure[1] == air.saturation_pressure_pa(293.15)


# --- vapour in the air ---


def test_vapour_density_is_the_ideal_gas_law() -> None:
    expected = 0.5 * float(air.saturation_pressure_pa(k(21.0))) / (461.5 * k(21.0))
    assert air.vapour_density_kg_m3(k(21.0), 0.5) == pytest.approx(expected, rel=1e-14)


def test_dry_air_holds_no_vapour() -> None:
    assert air.vapour_density_kg_m3(k(21.0), 0.0) == 0.0
    assert air.humidity_ratio(k(21.0), 0.0, 101325.0) == 0.0


def test_functions_broadcast_rows_against_columns() -> None:
    temperature = np.linspace(280.0, 300.0, 4)[:, None]
    humidity = np.linspace(0.1, 1.0, 3)[None, :]
    for grid in (
        air.vapour_density_kg_m3(temperature, humidity),
        air.humidity_ratio(temperature, humidity, 101325.0),
        air.wet_bulb_k(temperature, humidity, 101325.0),
        air.dew_point_k(temperature, humidity),
    ):
        assert grid.shape == (4, 3)
        assert grid.dtype == np.float64


def test_thin_air_holds_more_vapour_a_kilogram() -> None:
    assert air.humidity_ratio(k(21.0), 0.5, 80e3) > air.humidity_ratio(k(21.0), 0.5, 101325.0)


# --- dew point ---


@given(temperature=ROOM_K, humidity=HUMIDITY)
def test_air_at_its_dew_point_is_just_saturated(temperature: float, humidity: float) -> None:
    dew = air.dew_point_k(temperature, humidity)
    there = float(air.saturation_pressure_pa(dew))
    assert there == pytest.approx(humidity * float(air.saturation_pressure_pa(temperature)), rel=1e-4)


@given(temperature=ROOM_K, humidity=HUMIDITY)
def test_dew_point_is_never_above_the_air(temperature: float, humidity: float) -> None:
    assert air.dew_point_k(temperature, humidity) <= temperature


def test_saturated_air_is_at_its_dew_point() -> None:
    warm = np.array([250.0, 273.15, 294.15])
    assert air.dew_point_k(warm, 1.0) == pytest.approx(warm, abs=1e-9)


def test_supersaturated_air_counts_as_saturated() -> None:
    assert air.dew_point_k(k(21.0), 1.05) == pytest.approx(k(21.0), abs=1e-9)
    assert air.wet_bulb_k(k(21.0), 1.05, 101325.0) == pytest.approx(k(21.0), abs=1e-9)


def test_bone_dry_air_gets_the_end_of_the_ice_equation() -> None:
    assert air.dew_point_k(k(21.0), 0.0) == pytest.approx(173.15, abs=1e-9)


def test_dew_points_either_side_of_freezing_follow_their_own_equation() -> None:
    humidity = np.array([611.1, 611.3]) / float(air.saturation_pressure_pa(k(21.0)))
    frost, dew = air.dew_point_k(k(21.0), humidity)
    assert frost < 273.15 < dew
    assert air._over_ice_pa(np.asarray(frost)) == pytest.approx(611.1, rel=1e-9)
    assert air._over_water_pa(np.asarray(dew)) == pytest.approx(611.3, rel=1e-9)


def test_dew_point_of_a_missing_reading_is_missing() -> None:
    assert np.isnan(air.dew_point_k(np.array([np.nan, 290.0]), np.array([0.5, np.nan]))).all()


# --- wet bulb ---


@given(temperature=ROOM_K, humidity=HUMIDITY, pressure=PRESSURE_PA)
def test_wet_bulb_lies_between_dew_point_and_air(
    temperature: float, humidity: float, pressure: float
) -> None:
    wet = float(air.wet_bulb_k(temperature, humidity, pressure))
    assert float(air.dew_point_k(temperature, humidity)) - 1e-6 <= wet <= temperature


@given(temperature=ROOM_K, humidity=HUMIDITY, pressure=PRESSURE_PA)
def test_wet_bulb_leads_back_to_the_same_vapour(temperature: float, humidity: float, pressure: float) -> None:
    wet = float(air.wet_bulb_k(temperature, humidity, pressure))
    if abs(wet - 273.15) < 1e-6:
        return  # the step between the water and the ice equation: see the test below
    back = float(air.humidity_ratio_at_wet_bulb(temperature, wet, pressure))
    assert back == pytest.approx(float(air.humidity_ratio(temperature, humidity, pressure)), abs=1e-12)


def test_saturated_air_is_at_its_wet_bulb() -> None:
    warm = np.array([260.0, 280.0, 320.0])
    assert air.wet_bulb_k(warm, 1.0, 101325.0) == pytest.approx(warm, abs=1e-9)


def test_wet_bulb_of_bone_dry_air_is_inside_the_bracket() -> None:
    hot = np.array([k(0.0), k(30.0), k(60.0)])
    for pressure, widest in ((101325.0, 38.8), (60e3, 44.9)):
        depression = hot - air.wet_bulb_k(hot, 0.0, pressure)
        assert np.all(np.diff(depression) > 0.0)
        assert depression[-1] == pytest.approx(widest, abs=0.1)
        assert widest < air.WIDEST_DEPRESSION_K - 10.0


@given(temperature=st.floats(275.0, 320.0), pressure=PRESSURE_PA)
def test_wet_bulb_rises_with_humidity(temperature: float, pressure: float) -> None:
    humidity = np.linspace(0.02, 1.0, 60)
    assert np.all(np.diff(air.wet_bulb_k(temperature, humidity, pressure)) > 0.0)


@pytest.mark.parametrize("celsius", [3.0, 6.0, 9.0])
def test_where_water_and_ice_may_both_stand_either_answer_is_right(celsius: float) -> None:
    """Between the two bulbs at 0 degC a little vapour fits twice: once on ice, once on water."""
    as_water = float(air.humidity_ratio_at_wet_bulb(k(celsius), 273.15, 101325.0))
    as_ice = float(air.humidity_ratio_at_wet_bulb(k(celsius), np.nextafter(273.15, 0.0), 101325.0))
    assert as_ice > as_water
    vapour_pa = 101325.0 / (1.0 + 0.621945 / (0.5 * (as_water + as_ice)))
    humidity = vapour_pa / float(air.saturation_pressure_pa(k(celsius)))
    wet = float(air.wet_bulb_k(k(celsius), humidity, 101325.0))
    assert wet == pytest.approx(273.15, abs=1.0)
    back = float(air.humidity_ratio_at_wet_bulb(k(celsius), wet, 101325.0))
    assert back == pytest.approx(0.5 * (as_water + as_ice), abs=1e-12)


def test_an_iced_bulb_is_read_with_the_latent_heat_of_ice() -> None:
    wet = air.wet_bulb_k(k(-5.0), 0.5, 101325.0)
    full = float(air.humidity_ratio(float(wet), 1.0, 101325.0))
    t, b = -5.0, float(wet) - 273.15
    by_hand = ((2830 - 0.24 * b) * full - 1.006 * (t - b)) / (2830 + 1.86 * t - 2.1 * b)
    assert by_hand == pytest.approx(float(air.humidity_ratio(k(-5.0), 0.5, 101325.0)), abs=1e-12)


def test_wet_bulb_of_a_missing_reading_is_missing_and_spares_the_others() -> None:
    wet = air.wet_bulb_k(np.array([np.nan, k(21.0), k(21.0)]), np.array([0.5, np.nan, 0.5]), 101325.0)
    assert np.isnan(wet[:2]).all()
    assert wet[2] == air.wet_bulb_k(k(21.0), 0.5, 101325.0)


def test_wet_bulb_is_lower_in_thin_air() -> None:
    assert air.wet_bulb_k(k(21.0), 0.5, 80e3) < air.wet_bulb_k(k(21.0), 0.5, 101325.0)


# --- dry air ---


def test_dry_air_at_room_temperature_is_like_the_textbook_table() -> None:
    """Incropera & DeWitt table A.4, air at 300 K, 1 atm; 1 %."""
    assert air.density_kg_m3(300.0, 101325.0) == pytest.approx(1.1614, rel=0.015)
    assert air.conductivity_w_m_k(300.0) == pytest.approx(26.3e-3, rel=0.01)
    assert air.viscosity_pa_s(300.0) == pytest.approx(184.6e-7, rel=0.01)
    assert air.thermal_diffusivity_m2_s(300.0, 101325.0) == pytest.approx(22.5e-6, rel=0.02)


def test_vapour_diffusivity_is_massmans_at_freezing_and_grows_in_thin_air() -> None:
    assert air.vapour_diffusivity_m2_s(273.15, 101325.0) == pytest.approx(2.178e-5, rel=1e-12)
    assert air.vapour_diffusivity_m2_s(273.15, 101325.0 / 2) == pytest.approx(2 * 2.178e-5, rel=1e-12)


@given(temperature=ROOM_K, pressure=PRESSURE_PA)
def test_thermal_diffusivity_ties_the_others_together(temperature: float, pressure: float) -> None:
    heat = float(air.density_kg_m3(temperature, pressure)) * 1006.0
    alpha = float(air.thermal_diffusivity_m2_s(temperature, pressure))
    assert alpha * heat == pytest.approx(float(air.conductivity_w_m_k(temperature)), rel=1e-12)


@pytest.mark.parametrize(
    "property_of",
    [air.conductivity_w_m_k, air.viscosity_pa_s, lambda t: air.vapour_diffusivity_m2_s(t, 101325.0)],
)
def test_properties_rise_smoothly_with_temperature(property_of: object) -> None:
    values = property_of(np.linspace(233.15, 333.15, 101))  # type: ignore[operator]
    steps = np.diff(values)
    assert np.all(steps > 0.0)
    assert np.all(np.abs(np.diff(steps)) < 0.02 * steps[:-1])


# --- precision ---


@pytest.mark.parametrize(
    "of",
    [
        air.saturation_pressure_pa,
        air.conductivity_w_m_k,
        air.viscosity_pa_s,
        lambda t: air.density_kg_m3(t, np.full_like(t, 1e5)),
        lambda t: air.vapour_diffusivity_m2_s(t, np.full_like(t, 1e5)),
        lambda t: air.vapour_density_kg_m3(t, 0.5),
    ],
)
def test_single_precision_stays_single_and_keeps_five_digits(of: Callable[[Array], Array]) -> None:
    celsius = np.array([-30.0, -0.5, 0.0, 12.3, 55.0])
    found = of((celsius + 273.15).astype(np.float32))
    assert found.dtype == np.float32
    assert found == pytest.approx(of(celsius + 273.15), rel=2e-5)


@pytest.mark.parametrize("given", [300, 300.0, np.float64(300.0), np.array([300]), np.array([300.0])])
def test_all_other_numbers_become_double(given: float) -> None:
    assert air.floats(given).dtype == np.float64


@given(base=st.floats(1e-3, 1e3), exponent=st.sampled_from([0.25, 1.0 / 3.0, 0.625, 1.81]))
def test_power_is_a_power(base: float, exponent: float) -> None:
    assert air.power(np.array(base), exponent) == pytest.approx(base**exponent, rel=1e-13)
