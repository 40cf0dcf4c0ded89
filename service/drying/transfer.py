"""From the air to the shell's face: heat by convection and radiation, vapour by the same air.

As in `service.drying.air`, every function takes arrays or plain floats, broadcasts them, and gives an array.
Temperatures in K, lengths in m, speeds in m/s, pressures in Pa, heat transfer in W/m2/K, vapour transfer in
m/s (driven by vapour density). Valid for the air of `service.drying.air`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying import air
from service.drying.air import Values, power
from service.drying.isotherm import Array

GRAVITY_M_S2 = 9.80665
STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
LEAST_DIFFERENCE_K = 0.2  # air is never quite still: keeps a thin draught where face and air are alike


class Film(NamedTuple):
    """Dry air half-way between the room's and the face's temperature: all that a face needs to know of it."""

    temperature_k: Array
    conductivity_w_m_k: Array
    heat_j_m3_k: Array  # density x heat capacity
    kinematic_m2_s: Array
    pressure_pa: Values

    @property
    def diffusivity_m2_s(self) -> Array:
        return self.conductivity_w_m_k / self.heat_j_m3_k


def film(air_k: Values, surface_k: Values, pressure_pa: Values) -> Film:
    """The film of air between a face and its room."""
    return film_at(0.5 * (air.floats(air_k) + surface_k), pressure_pa)


def film_at(temperature_k: Values, pressure_pa: Values) -> Film:
    t = air.floats(temperature_k)
    density = air.density_kg_m3(t, pressure_pa)
    kinematic = air.viscosity_pa_s(t) / density
    return Film(t, air.conductivity_w_m_k(t), density * air.CP_J_KG_K, kinematic, pressure_pa)


def natural_convection_w_m2_k(
    air_k: Values, surface_k: Values, height_m: Values, pressure_pa: Values
) -> Array:
    """Still air along a vertical face, laminar: Rayleigh number up to 1e9.

    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329; properties at the film
    temperature.
    """
    return natural_in_w_m2_k(film(air_k, surface_k, pressure_pa), air_k - air.floats(surface_k), height_m)


def natural_in_w_m2_k(between: Film, difference_k: Array, height_m: Values) -> Array:
    """The same, where the film is known already."""
    alpha, nu = between.diffusivity_m2_s, between.kinematic_m2_s
    difference = np.maximum(np.abs(difference_k), LEAST_DIFFERENCE_K)
    cube = height_m * height_m * height_m
    rayleigh = GRAVITY_M_S2 * difference * cube / (between.temperature_k * nu * alpha)
    prandtl_term = power(1.0 + power(0.492 * alpha / nu, 9.0 / 16.0), 4.0 / 9.0)
    nusselt = 0.68 + 0.670 * np.sqrt(np.sqrt(rayleigh)) / prandtl_term
    return between.conductivity_w_m_k / height_m * nusselt


def forced_convection_w_m2_k(air_k: Values, speed_m_s: Values, width_m: Values, pressure_pa: Values) -> Array:
    """Air moving across a cylinder as wide as the zone; Reynolds x Prandtl above 0.2. Still air gives Nu 0.3.

    S. W. Churchill and M. Bernstein, J. Heat Transfer 99 (1977) 300-306; properties at air temperature.
    """
    conductivity = air.conductivity_w_m_k(air_k)
    viscosity = air.viscosity_pa_s(air_k)
    prandtl = viscosity * air.CP_J_KG_K / conductivity
    reynolds = air.density_kg_m3(air_k, pressure_pa) * speed_m_s * width_m / viscosity
    laminar = 0.62 * np.sqrt(reynolds) * np.cbrt(prandtl) / power(1.0 + power(0.4 / prandtl, 2.0 / 3.0), 0.25)
    nusselt = 0.3 + laminar * power(1.0 + (reynolds / 282000.0) ** 0.625, 0.8)
    return conductivity / width_m * nusselt


def convection_w_m2_k(
    air_k: Values,
    surface_k: Values,
    speed_m_s: Values,
    height_m: Values,
    width_m: Values,
    pressure_pa: Values,
) -> Array:
    """Still and moving air together, the cubes added.

    S. W. Churchill, AIChE J. 23 (1977) 10-16, for assisting flows.
    """
    natural = natural_convection_w_m2_k(air_k, surface_k, height_m, pressure_pa)
    forced = forced_convection_w_m2_k(air_k, speed_m_s, width_m, pressure_pa)
    return both_w_m2_k(natural, forced)


def both_w_m2_k(natural: Array, forced: Array) -> Array:
    return power(natural * natural * natural + forced * forced * forced, 1.0 / 3.0)


def radiation_w_m2_k(film_k: Values, emissivity: Values = 0.9) -> Array:
    """Radiation between a face and a room as warm as its air, made linear about the mean of the two."""
    t = air.floats(film_k)
    return 4.0 * emissivity * STEFAN_BOLTZMANN_W_M2_K4 * t * t * t


def mass_transfer_m_s(convection_w_m2_k: Values, film_k: Values, pressure_pa: Values) -> Array:
    """Speed at which vapour leaves the face, from the heat the same air carries.

    T. H. Chilton and A. P. Colburn, Ind. Eng. Chem. 26 (1934) 1183-1187: k = h / (rho cp Le^(2/3)).
    """
    return mass_in_m_s(film_at(film_k, pressure_pa), convection_w_m2_k)


def mass_in_m_s(between: Film, convection_w_m2_k: Values) -> Array:
    """The same, where the film is known already."""
    vapour = air.vapour_diffusivity_m2_s(between.temperature_k, between.pressure_pa)
    lewis = between.diffusivity_m2_s / vapour
    return convection_w_m2_k / (between.heat_j_m3_k * power(lewis, 2.0 / 3.0))


def pocket_resistance_s_m(
    depth_m: Values,
    width_m: Values,
    round_hole: bool | NDArray[np.bool_],
    air_k: Values,
    pressure_pa: Values,
    stirring: Values = 8.0,
) -> Array:
    """What a blind hole or slot adds to 1/k, for its wall.

    All the wall's vapour must pass the opening, and the air deeper than one width hardly moves. `stirring`
    says how many times better than still vapour the pocket's own draught does (8, assumed). A pocket no
    deeper than it is wide adds nothing.
    """
    path_m = pocket_path_m(depth_m, width_m, round_hole) / stirring
    return path_m / air.vapour_diffusivity_m2_s(air_k, pressure_pa)


def pocket_path_m(depth_m: Values, width_m: Values, round_hole: bool | NDArray[np.bool_]) -> Array:
    """The still air that adds as much to 1/k, in front of each wall, where nothing stirs it."""
    depth = air.floats(depth_m)
    wall_to_opening = np.where(round_hole, 4.0, 2.0) * depth / width_m + 1.0
    return wall_to_opening * 0.5 * np.maximum(depth - width_m, 0.0)


def constant_rate_kg_m2_s(
    heat_w_m2_k: Values, air_k: Values, wet_bulb_k: Values, latent_heat_j_kg: Values = 2.45e6
) -> Array:
    """Drying rate of a wet face which sits at the wet bulb (Geankoplis, Transport Processes, eq. 9.6-8)."""
    return (
        np.asarray(heat_w_m2_k, np.float64) * (air_k - np.asarray(wet_bulb_k, np.float64)) / latent_heat_j_kg
    )


def surface_recovery(surface_k: Values, air_k: Values, wet_bulb_k: Values) -> Array:
    """How far the face has warmed back: near 0 wet, near 1 no longer evaporating.

    It speaks of the face, not of the depth. NaN in saturated air, where wet and dry faces are equally warm.
    """
    spread = air_k - np.asarray(wet_bulb_k, np.float64)
    warmed = np.asarray(surface_k, np.float64) - wet_bulb_k
    told = np.abs(spread) > 1e-6
    return np.where(told, warmed, np.nan) / np.where(told, spread, 1.0)
