"""Moist air: how much water it holds, how wet it is, and how it carries heat and vapour.

Every function takes float64 arrays or plain floats, broadcasts them, and gives a float64 array; of float32 arrays
it makes float32 ones (good to about 1e-5 of the value).
Temperatures in K, relative humidity as a share 0..1 of saturation (over ice below 0 degC), pressures in Pa.
Valid for -40 to 60 degC and 60 to 110 kPa unless said otherwise. Nothing is checked here: odd readings are
turned away before they come this far, and a NaN stays a NaN.

Sources: ASHRAE Handbook - Fundamentals 2017 chapter 1 ("ASHRAE"); W. J. Massman, Atmospheric Environment 32
(1998) 1111-1127.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from service.drying.isotherm import Array

Values = Array | float

FREEZING_K = 273.15
STANDARD_PRESSURE_PA = 101325.0
CP_J_KG_K = 1006.0  # dry air
AIR_GAS_CONSTANT_J_KG_K = 287.05
VAPOUR_GAS_CONSTANT_J_KG_K = 461.5
MOLE_MASS_RATIO = 0.621945  # water to dry air
LOWEST_DEW_POINT_K = 173.15  # where the ice equation ends
WIDEST_DEPRESSION_K = 60.0  # bone-dry air at 60 degC cools a bulb by 39 K at the sea, 45 K at 60 kPa
LN_10 = math.log(10.0)
HALVINGS = 42  # 100 K down to 2e-11 K


def floats(values: Values) -> Array:
    """An array of floats: single precision stays single."""
    single = getattr(values, "dtype", None) == np.float32
    return np.asarray(values, np.float32 if single else np.float64)


def power(base: Array, exponent: float) -> Array:
    """base ** exponent for a base above 0: a third of the time that `**` takes."""
    out: Array = np.exp(exponent * np.log(base))
    return out


def standard_pressure_pa(altitude_m: Values) -> Array:
    """Pressure of the standard atmosphere at an altitude of -5000 to 11000 m (ASHRAE eq. 3)."""
    return STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * floats(altitude_m)) ** 5.2559


def saturation_pressure_pa(temperature_k: Values) -> Array:
    """Vapour pressure over ice below 0 degC, over water from 0 degC up; -100 to 200 degC.

    Hyland and Wexler 1983, as ASHRAE eq. 5 and 6.
    """
    t = floats(temperature_k)
    if bool((t >= FREEZING_K).all()):
        return _over_water_pa(t)
    return np.where(t < FREEZING_K, _over_ice_pa(t), _over_water_pa(t))


def saturation_over_water_pa(temperature_k: Values) -> Array:
    """Vapour pressure over water in frost too, as weather services have it; -40 to 60 degC (ASHRAE eq. 6).

    By the WMO's rule relative humidity, and mostly the dew point, is over water at any temperature (WMO-No. 8, Guide to
    Instruments and Methods of Observation, ch. 4).
    """
    return _over_water_pa(np.asarray(temperature_k, np.float64))


def _over_water_pa(t: Array) -> Array:
    polynomial = 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 - t * 1.4452093e-8))
    return np.exp(-5.8002206e3 / t + polynomial + 6.5459673 * np.log(t))


def _over_ice_pa(t: Array) -> Array:
    high = 6.2215701e-7 + t * (2.0747825e-9 - t * 9.484024e-13)
    polynomial = 6.3925247 + t * (-9.677843e-3 + t * high)
    return np.exp(-5.6745359e3 / t + polynomial + 4.1635019 * np.log(t))


def vapour_density_kg_m3(temperature_k: Values, humidity: Values) -> Array:
    """Mass of water vapour in a volume of air (ideal gas)."""
    pressure = humidity * saturation_pressure_pa(temperature_k)
    return pressure / (VAPOUR_GAS_CONSTANT_J_KG_K * temperature_k)


def humidity_ratio(temperature_k: Values, humidity: Values, pressure_pa: Values) -> Array:
    """Kilograms of vapour a kilogram of dry air (ASHRAE eq. 20), while water does not boil."""
    vapour_pa = humidity * saturation_pressure_pa(temperature_k)
    return MOLE_MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def humidity_at_ratio(temperature_k: Values, ratio: Values, pressure_pa: Values) -> Array:
    """The relative humidity of air that holds so much: `humidity_ratio` turned round (ASHRAE eq. 20 and 22)."""
    vapour_pa = np.asarray(ratio, np.float64) * pressure_pa / (MOLE_MASS_RATIO + ratio)
    return vapour_pa / saturation_pressure_pa(temperature_k)


def humidity_ratio_at_wet_bulb(temperature_k: Values, wet_bulb_k: Values, pressure_pa: Values) -> Array:
    """Kilograms of vapour a kilogram of dry air, from the two thermometers of a psychrometer.

    ASHRAE eq. 33 for a bulb wetted with water, eq. 35 for an iced bulb (below 0 degC).
    """
    dry = floats(temperature_k) - FREEZING_K
    wet = floats(wet_bulb_k) - FREEZING_K
    full = humidity_ratio(wet_bulb_k, 1.0, pressure_pa)
    ratio = ((2501.0 - 2.326 * wet) * full - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet)
    if np.all(wet >= 0.0):
        return ratio
    iced = ((2830.0 - 0.24 * wet) * full - 1.006 * (dry - wet)) / (2830.0 + 1.86 * dry - 2.1 * wet)
    return np.where(wet < 0.0, iced, ratio)


def wet_bulb_k(temperature_k: Values, humidity: Values, pressure_pa: Values = STANDARD_PRESSURE_PA) -> Array:
    """Thermodynamic wet-bulb temperature (ASHRAE eq. 33 and 35), never above the air's own.

    Good to 1e-9 K, save where water and ice can both stand at 0 degC: there either answer is right, and they
    lie within 1 K of each other.
    """
    target = humidity_ratio(temperature_k, humidity, pressure_pa)
    dry = floats(temperature_k)
    return _bisect(
        lambda wet: humidity_ratio_at_wet_bulb(dry, wet, pressure_pa), target, dry - WIDEST_DEPRESSION_K, dry
    )


def dew_point_k(temperature_k: Values, humidity: Values) -> Array:
    """Temperature at which this air is saturated (frost point below 0 degC), never above the air's own.

    Good to 1e-9 K. Bone-dry air has none: it gets -100 degC, the end of the ice equation.
    """
    target = humidity * saturation_pressure_pa(temperature_k)
    dry = floats(temperature_k)
    return _bisect(saturation_pressure_pa, target, np.full_like(dry, LOWEST_DEW_POINT_K), dry)


def _bisect(rising: Callable[[Array], Array], target: Array, low: Array, high: Array) -> Array:
    """Where `rising` reaches `target`, by halving; NaN where the target is NaN."""
    low, high, target = np.broadcast_arrays(low, high, target)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        above = rising(middle) > target
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.where(np.isnan(target), np.nan, 0.5 * (low + high))


def conductivity_w_m_k(temperature_k: Values) -> Array:
    """Thermal conductivity of dry air (US Standard Atmosphere 1976 eq. 53)."""
    t = floats(temperature_k)
    return 2.64638e-3 * t * np.sqrt(t) / (t + 245.4 * np.exp(-12.0 * LN_10 / t))


def viscosity_pa_s(temperature_k: Values) -> Array:
    """Dynamic viscosity of dry air: Sutherland's law (US Standard Atmosphere 1976 eq. 51)."""
    t = floats(temperature_k)
    return 1.458e-6 * t * np.sqrt(t) / (t + 110.4)


def density_kg_m3(temperature_k: Values, pressure_pa: Values) -> Array:
    """Density of dry air (ideal gas)."""
    return floats(pressure_pa) / (AIR_GAS_CONSTANT_J_KG_K * temperature_k)


def thermal_diffusivity_m2_s(temperature_k: Values, pressure_pa: Values) -> Array:
    """Conductivity / (density x heat capacity) of dry air."""
    return conductivity_w_m_k(temperature_k) / (density_kg_m3(temperature_k, pressure_pa) * CP_J_KG_K)


def vapour_diffusivity_m2_s(temperature_k: Values, pressure_pa: Values) -> Array:
    """Diffusivity of water vapour in air (Massman 1998)."""
    t = floats(temperature_k)
    return 2.178e-5 * power(t / FREEZING_K, 1.81) * (STANDARD_PRESSURE_PA / pressure_pa)
