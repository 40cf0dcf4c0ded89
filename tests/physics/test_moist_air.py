"""Moist air against the ASHRAE Handbook and two reference libraries.

Sources: ASHRAE Handbook - Fundamentals 2017, chapter 1, table 3 and example 1; CoolProp's HAPropsSI (Herrmann,
Kretzschmar and Gatley, real moist air, ASHRAE RP-1485); PsychroLib (ASHRAE 2017, ideal moist air).
"""

from __future__ import annotations

import numpy as np
import pytest

from service.drying import air
from service.drying.isotherm import Array
from tests.parts import need

ZERO_K = 273.15
CELSIUS = np.linspace(-10.0, 50.0, 13)[:, None]
HUMIDITY = np.array([0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 1.0])[None, :]
PRESSURES = pytest.mark.parametrize("pressure_pa", [101325.0, 85e3])


@pytest.mark.parametrize(
    ("celsius", "pascal"), [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3), (-20.0, 103.24)]
)
def test_saturation_pressure_in_the_ashrae_table(celsius: float, pascal: float) -> None:
    """Table 3. 300 ppm: the printed table follows later formulas than equations 5 and 6."""
    assert air.saturation_pressure_pa(celsius + ZERO_K) == pytest.approx(pascal, rel=300e-6)


def test_ashrae_example_one() -> None:
    """40 degC dry bulb, 20 degC wet bulb, 101.325 kPa. The example is read off a chart, hence to its last digit."""
    dry = 40.0 + ZERO_K
    ratio = float(air.humidity_ratio_at_wet_bulb(dry, 20.0 + ZERO_K, 101325.0))
    assert ratio == pytest.approx(0.0065, abs=0.0001)
    vapour_pa = 101325.0 * ratio / (0.621945 + ratio)
    humidity = vapour_pa / float(air.saturation_pressure_pa(dry))
    assert humidity == pytest.approx(0.14, abs=0.005)
    assert float(air.dew_point_k(dry, humidity)) - ZERO_K == pytest.approx(7.0, abs=0.5)
    assert float(air.wet_bulb_k(dry, humidity, 101325.0)) - ZERO_K == pytest.approx(20.0, abs=1e-6)


def test_wet_bulb_in_geankoplis_drying_example() -> None:
    """Geankoplis, Transport Processes, ex. 9.6-3: air 65.6 degC with 0.010 kg/kg has its wet bulb at 28.9 degC."""
    vapour_pa = 101325.0 * 0.010 / (0.621945 + 0.010)
    humidity = vapour_pa / float(air.saturation_pressure_pa(65.6 + ZERO_K))
    assert float(air.wet_bulb_k(65.6 + ZERO_K, humidity, 101325.0)) - ZERO_K == pytest.approx(28.9, abs=0.05)


def test_saturation_pressure_in_the_steam_tables() -> None:
    """CoolProp, IAPWS-95: 300 ppm from 0.01 to 60 degC."""
    properties = need("CoolProp.CoolProp")
    kelvin = np.linspace(273.16, 333.15, 25)
    expected = [properties.PropsSI("P", "T", t, "Q", 0, "Water") for t in kelvin]
    assert air.saturation_pressure_pa(kelvin) == pytest.approx(expected, rel=300e-6)


def on_grid(output: str, pressure_pa: float) -> Array:
    properties = need("CoolProp.CoolProp")

    def one(celsius: float, humidity: float) -> float:
        return float(properties.HAPropsSI(output, "T", celsius + ZERO_K, "R", humidity, "P", pressure_pa))

    grid: Array = np.vectorize(one)(CELSIUS, HUMIDITY)
    return grid


@PRESSURES
def test_wet_bulb_of_real_moist_air(pressure_pa: float) -> None:
    """CoolProp: 0.03 K, save where the bulb is within 1 K of freezing and may be iced or not."""
    expected = on_grid("B", pressure_pa)
    ours = air.wet_bulb_k(CELSIUS + ZERO_K, HUMIDITY, pressure_pa)
    freezing = np.abs(expected - ZERO_K) < 1.0
    assert np.count_nonzero(freezing) < 12
    assert np.abs(ours - expected)[~freezing].max() < 0.03
    assert np.abs(ours - expected)[freezing].max() < 1.0


@PRESSURES
def test_dew_point_of_real_moist_air(pressure_pa: float) -> None:
    """CoolProp: 0.03 K, ice below freezing in both."""
    ours = air.dew_point_k(CELSIUS + ZERO_K, HUMIDITY)
    assert np.abs(ours - on_grid("D", pressure_pa)).max() < 0.03


@PRESSURES
def test_vapour_of_real_moist_air(pressure_pa: float) -> None:
    """CoolProp: 0.7 %, the enhancement factor which ideal gas leaves out (ASHRAE ch. 1 puts it near 0.5 %)."""
    ratio = on_grid("W", pressure_pa)
    assert air.humidity_ratio(CELSIUS + ZERO_K, HUMIDITY, pressure_pa) == pytest.approx(ratio, rel=0.007)
    density = ratio / on_grid("Vda", pressure_pa)
    assert air.vapour_density_kg_m3(CELSIUS + ZERO_K, HUMIDITY) == pytest.approx(density, rel=0.007)


def test_dry_air_properties() -> None:
    """CoolProp, dry air at 101.325 kPa, -10 to 50 degC: conductivity and viscosity 1.2 %, density and heat 0.2 %."""
    properties = need("CoolProp.CoolProp")
    kelvin = CELSIUS[:, 0] + ZERO_K

    def table(output: str) -> list[float]:
        return [properties.PropsSI(output, "T", t, "P", 101325.0, "Air") for t in kelvin]

    assert air.conductivity_w_m_k(kelvin) == pytest.approx(table("L"), rel=0.012)
    assert air.viscosity_pa_s(kelvin) == pytest.approx(table("V"), rel=0.012)
    assert air.density_kg_m3(kelvin, 101325.0) == pytest.approx(table("D"), rel=0.002)
    assert np.full(13, air.CP_J_KG_K) == pytest.approx(table("C"), rel=0.002)


def test_vapour_diffusivity_of_another_author() -> None:
    """Marrero and Mason, J. Phys. Chem. Ref. Data 1 (1972) 3-118: 1.87e-10 T^2.072 / atm, 280 to 450 K (from memory).

    4 %: published values of this property scatter by about as much.
    """
    kelvin = np.linspace(280.0, 323.15, 8)
    assert air.vapour_diffusivity_m2_s(kelvin, 101325.0) == pytest.approx(1.87e-10 * kelvin**2.072, rel=0.04)


@pytest.mark.parametrize("altitude_m", [-500.0, 0.0, 120.0, 1500.0, 3000.0])
def test_standard_pressure(altitude_m: float) -> None:
    """PsychroLib, ASHRAE eq. 3."""
    psychrolib = need("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetStandardAtmPressure(altitude_m)
    assert air.standard_pressure_pa(altitude_m) == pytest.approx(expected, rel=1e-9)


@PRESSURES
def test_moist_air_of_the_same_equations(pressure_pa: float) -> None:
    """PsychroLib: wet bulb and dew point 0.002 K (its own stopping rule is 0.001), humidity ratio 0.02 %."""
    psychrolib = need("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    kelvin = CELSIUS + ZERO_K
    ratio = np.vectorize(psychrolib.GetHumRatioFromRelHum)(CELSIUS, HUMIDITY, pressure_pa)
    dew = np.vectorize(psychrolib.GetTDewPointFromRelHum)(CELSIUS, HUMIDITY)
    wet = np.vectorize(psychrolib.GetTWetBulbFromRelHum)(CELSIUS, HUMIDITY, pressure_pa)
    assert air.humidity_ratio(kelvin, HUMIDITY, pressure_pa) == pytest.approx(ratio, rel=2e-4)
    assert np.abs(air.dew_point_k(kelvin, HUMIDITY) - ZERO_K - dew).max() < 0.002
    difference = np.abs(air.wet_bulb_k(kelvin, HUMIDITY, pressure_pa) - ZERO_K - wet)
    either = np.abs(wet) < 1.0  # an iced and a wet bulb both fit
    assert difference[~either].max() < 0.002
    assert difference[either].max() < 1.0
