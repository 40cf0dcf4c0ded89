"""The drying of one zone written a second time, for SciPy's BDF: plain scalars, nothing of the service's solver.

It shares only the description of a zone (coats, shape, parameters, air) with the service. Used where the air changes,
for which there is no closed solution and no table.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.drying.isotherm import Array, Gab
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from tests.parts import need

OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)
RELATIVE_TOLERANCE = 1e-4
ABSOLUTE_TOLERANCE = 1e-6


@dataclass(frozen=True)
class SecondOpinion:
    """Instants at which the limits were met (None if not), and the zone at the end."""

    ready_s: float | None
    dry_s: float | None
    saturation: Array
    surface_k: float


def saturated_kg_m3(kelvin: float) -> float:
    a, b, c, d, e, f = OVER_WATER
    polynomial = b + kelvin * (c + kelvin * (d + kelvin * e))
    return math.exp(a / kelvin + polynomial + f * math.log(kelvin)) / (461.5 * kelvin)


def dry_air(kelvin: float, pascal: float) -> tuple[float, float, float, float]:
    """Conductivity, kinematic viscosity, thermal diffusivity, density."""
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin))
    density = pascal / (287.05 * kelvin)
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    return conductivity, viscosity / density, conductivity / density / 1006.0, density


def vapour_in_air_m2_s(kelvin: float, pascal: float) -> float:
    return 2.178e-5 * math.pow(kelvin / 273.15, 1.81) * 101325.0 / pascal


class Zone:
    """The right-hand side: water of each cell, outermost first, and the surface temperature last."""

    def __init__(self, state: ZoneState, air: AirSeries, parameters: Parameters) -> None:
        assert isinstance(parameters.isotherm, Gab)
        self.air, self.p, self.shape, self.gab = air, parameters, state.shape, parameters.isotherm
        cells = state.saturation.size // len(state.coats)
        outside_in = [coat for coat in reversed(state.coats) for _ in range(cells)]
        self.newest = cells
        self.size_m = np.array([coat.thickness_m / cells for coat in outside_in])
        self.pores = np.array([coat.porosity * 998.0 for coat in outside_in])
        self.dry_kg_m2 = sum(coat.thickness_m * coat.dry_density_kg_m3 for coat in state.coats)
        self.to_content = self.pores[0] / outside_in[0].dry_density_kg_m3
        quick = np.array([coat.diffusivity_multiplier for coat in outside_in])
        half = self.size_m / quick
        self.between = (self.pores[1:] + self.pores[:-1]) / (half[1:] + half[:-1])
        self.newest_is_quick = float(quick[0])
        self.heat = parameters.shell_heat_j_kg_k * self.dry_kg_m2 + parameters.wax_heat_j_m2_k

    def __call__(self, time_s: float, y: Array) -> Array:
        s, surface = y[:-1], float(y[-1])
        air_k, humidity, speed, pascal = (
            float(np.interp(time_s, self.air.time_s, row))
            for row in (self.air.temperature_k, self.air.humidity, self.air.speed_m_s, self.air.pressure_pa)
        )
        d0 = self.p.diffusivity_m2_s * self.p.diffusivity_multiplier
        d0 *= math.exp(self.p.activation_energy_j_mol / 8.314462618 * (1 / 293.15 - 1 / surface))
        inward = np.diff(s) * self.between * d0 * np.exp(self.p.diffusivity_slope * (s[1:] + s[:-1]) / 2)
        heat, mass = self.transfer(air_k, surface, speed, pascal)
        half_cell = (
            2
            * self.pores[0]
            / self.size_m[0]
            * self.newest_is_quick
            * d0
            * math.exp(self.p.diffusivity_slope * s[0])
        )
        leaving = self.flux(
            float(s[0]), half_cell, mass, saturated_kg_m3(surface), humidity * saturated_kg_m3(air_k)
        )
        rate = np.zeros_like(y)
        rate[0] = -leaving
        rate[:-2] += inward
        rate[1:-1] -= inward
        rate[:-1] /= self.pores * self.size_m
        rate[-1] = (heat * (air_k - surface) - leaving * self.p.latent_heat_j_kg) / self.heat
        return rate

    def transfer(self, air_k: float, surface: float, speed: float, pascal: float) -> tuple[float, float]:
        """Heat transfer with radiation, and vapour transfer through film and pocket."""
        film = (air_k + surface) / 2
        k, nu, alpha, density = dry_air(film, pascal)
        tall, wide = self.shape.height_m, self.shape.width_m
        rayleigh = 9.80665 * max(abs(air_k - surface), 0.2) * tall**3 / (film * nu * alpha)
        still = k / tall * (0.68 + 0.670 * rayleigh**0.25 / (1 + (0.492 * alpha / nu) ** (9 / 16)) ** (4 / 9))
        k, nu, alpha_air, _ = dry_air(air_k, pascal)
        reynolds, prandtl = speed * wide / nu, nu / alpha_air
        nusselt = 0.62 * reynolds**0.5 * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
        moving = k / wide * (0.3 + nusselt * (1 + (reynolds / 282000) ** (5 / 8)) ** (4 / 5))
        convection = self.p.transfer_multiplier * (still**3 + moving**3) ** (1 / 3)
        lewis = alpha / vapour_in_air_m2_s(film, pascal)
        resistance = density * 1006.0 * lewis ** (2 / 3) / convection + self.pocket(air_k, pascal)
        return convection + 4 * self.p.emissivity * 5.670374419e-8 * film**3, 1 / resistance

    def pocket(self, air_k: float, pascal: float) -> float:
        pocket = self.shape.pocket
        if pocket is None:
            return 0.0
        walls = (4 if pocket.round_hole else 2) * pocket.depth_m / pocket.width_m + 1
        still_m = max(pocket.depth_m - pocket.width_m, 0.0)
        stirring = self.p.pocket_stirring * self.p.stirring_multiplier
        return walls * still_m / 2 / (stirring * vapour_in_air_m2_s(air_k, pascal))

    def flux(self, outermost: float, half_cell: float, mass: float, saturated: float, vapour: float) -> float:
        """By regula falsi (Illinois) on the saturation of the very face."""

        def excess(face: float) -> float:
            return half_cell * (outermost - face) - mass * (self.activity(face) * saturated - vapour)

        low, high = 0.0, 2.0
        at_low, at_high = excess(low), excess(high)
        for _ in range(100):
            face = (low * at_high - high * at_low) / (at_high - at_low)
            here = excess(face)
            if abs(here) < 1e-15 or high - low < 1e-13:
                break
            if here > 0:
                low, at_low, at_high = face, here, at_high / 2
            else:
                high, at_high, at_low = face, here, at_low / 2
        return mass * (self.activity(face) * saturated - vapour)

    def activity(self, face: float) -> float:
        """GAB turned round: A y^2 + B y - X = 0 in y = K a."""
        content = max(face, 0.0) * self.to_content
        a = content * (self.gab.c - 1)
        b = self.gab.monolayer * self.gab.c - content * (self.gab.c - 2)
        return min((math.sqrt(b * b + 4 * a * content) - b) / (2 * a) / self.gab.k, 1.0) if a > 0 else 0.0


def second_opinion(
    state: ZoneState,
    until_s: float,
    air: AirSeries,
    parameters: Parameters,
    limits: Limits,
    relative_tolerance: float = RELATIVE_TOLERANCE,
    absolute_tolerance: float = ABSOLUTE_TOLERANCE,
) -> SecondOpinion:
    """Dry one zone, all above freezing, with SciPy's BDF."""
    zone = Zone(state, air, parameters)

    def ready(_: float, y: Array) -> float:
        return float(y[: zone.newest].mean()) - limits.ready_saturation

    def dry(_: float, y: Array) -> float:
        return float(y[:-1] @ (zone.pores * zone.size_m)) / zone.dry_kg_m2 - limits.water_share

    start = np.append(state.saturation, state.surface_k)
    done: Any = need("scipy.integrate").solve_ivp(
        zone,
        (state.time_s, until_s),
        start,
        method="BDF",
        events=[ready, dry],
        rtol=relative_tolerance,
        atol=absolute_tolerance,
    )
    ready_s, dry_s = (float(times[0]) if len(times) else None for times in done.t_events)
    return SecondOpinion(ready_s, dry_s, done.y[:-1, -1], float(done.y[-1, -1]))
