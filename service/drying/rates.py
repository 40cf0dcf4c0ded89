"""How fast a batch of zones dries right now, and how that answers to its own state."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying import air as moist_air
from service.drying import transfer
from service.drying.batch import Shells
from service.drying.weather import Air

Array = NDArray[np.float64]

GAS_CONSTANT_J_MOL_K = 8.314462618
REFERENCE_K = 293.15
CLAUSIUS_CLAPEYRON_K = 2.45e6 / 461.5  # latent heat over the gas constant of vapour; steers the step only
LAST_POROUS_PART = 0.01
"""A face that fills up takes less and less dew over the last hundredth of its pores (our choice)."""
MOST_NEWTON_STEPS = 60


class Face(NamedTuple):
    """What leaves the face of each zone, and how that answers to the outermost cell and the temperature."""

    flux: Array
    by_saturation: Array
    by_temperature: Array
    heat_w_m2_k: Array


class Slope(NamedTuple):
    """How fast it goes now. rows: K/s of the surface, then kg/m2/s gained by each cell. flux: kg/m2/s that leave.

    inner, conductance, difference: between each cell and the next.
    """

    rows: Array
    face: Face
    difference: Array
    conductance: Array


class Derivative:
    """The right-hand side under one step's mean air."""

    def __init__(self, shells: Shells, air: Air) -> None:
        self.shells, self.air = shells, air
        self.vapour = moist_air.vapour_density_kg_m3(air.temperature_k, air.humidity)
        diffusivity = moist_air.vapour_diffusivity_m2_s(air.temperature_k, air.pressure_pa)
        self.pocket_s_m = shells.pocket_path_m / diffusivity
        self.forced_w_m2_k = transfer.forced_convection_w_m2_k(
            air.temperature_k, air.speed_m_s, shells.width_m, air.pressure_pa
        )

    def slope(self, u: Array) -> Slope:
        """u: (1 + cells, columns), the surface temperature and then the saturations."""
        surface_k, saturation = u[0], u[1:]
        warm = self._arrhenius(surface_k)
        g = saturation[1:] + saturation[:-1]
        g *= 0.5
        g = self._diffusion_factor(g)
        g *= self.shells.conductance
        g *= warm
        difference = saturation[1:] - saturation[:-1]
        inner = g * difference
        face = self._face(surface_k, saturation[0], warm)
        rows = np.empty_like(u)
        heat = face.heat_w_m2_k * (self.air.temperature_k - surface_k)
        cooling = self.shells.parameters.latent_heat_j_kg * face.flux
        rows[0] = (heat - cooling) / self.shells.heat_j_m2_k
        rows[1] = -face.flux
        rows[2:] = -inner
        rows[1:-1] += inner
        return Slope(rows, face, difference, g)

    def _arrhenius(self, surface_k: Array) -> Array:
        energy = self.shells.parameters.activation_energy_j_mol / GAS_CONSTANT_J_MOL_K
        out: Array = np.exp(energy * (1.0 / REFERENCE_K - 1.0 / surface_k))
        return out

    def _diffusion_factor(self, saturation: Array) -> Array:
        out: Array = self.shells.parameters.diffusivity_slope * saturation
        return np.exp(out, out=out)

    def _face(self, surface_k: Array, outermost: Array, warm: Array) -> Face:
        heat, mass = self._transfer(surface_k)
        saturated = moist_air.vapour_density_kg_m3(surface_k, np.ones_like(surface_k))
        g = self.shells.half_cell * warm * self._diffusion_factor(outermost)
        activity, slope = self._face_activity(outermost, g, mass, saturated)
        flux = mass * (activity * saturated - self.vapour)
        b = self.shells.parameters.diffusivity_slope
        # While the face is as wet as it can be, the cell behind does not steer the flux.
        steered = np.where(activity < 1.0, 1.0 / (g * slope + mass * saturated), 0.0)
        by_saturation = mass * saturated * steered * (b * flux + g)
        saturated_slope = saturated * (CLAUSIUS_CLAPEYRON_K / surface_k - 1.0) / surface_k
        answered = np.where(activity < 1.0, g * slope * steered, 1.0)
        by_temperature = answered * mass * activity * saturated_slope
        return _without_dew_that_runs_off(Face(flux, by_saturation, by_temperature, heat), outermost)

    def _transfer(self, surface_k: Array) -> tuple[Array, Array]:
        s, air_k = self.shells, self.air.temperature_k
        film = transfer.film(air_k, surface_k, self.air.pressure_pa)
        natural = transfer.natural_in_w_m2_k(film, air_k - surface_k, s.height_m)
        h = s.transfer * transfer.both_w_m2_k(natural, self.forced_w_m2_k)
        open_face = transfer.mass_in_m_s(film, h)
        radiation = transfer.radiation_w_m2_k(film.temperature_k, s.parameters.emissivity)
        return h + radiation, 1.0 / (1.0 / open_face + self.pocket_s_m)

    def _face_activity(
        self, outermost: Array, g: Array, mass: Array, saturated: Array
    ) -> tuple[Array, Array]:
        """Water activity at the very face: what comes through the half cell leaves to the air.

        Newton on a falling function of the activity, kept between bounds that close in. Also d(saturation)/d(activity).
        """
        isotherm = self.shells.parameters.isotherm
        dry_share = self.shells.dry_share

        def excess(a: Array) -> Array:
            arriving = g * (outermost - isotherm.water_content(a) * dry_share)
            out: Array = arriving - mass * (a * saturated - self.vapour)
            return out

        settled = np.finfo(outermost.dtype).eps ** 0.75
        low, high = np.zeros_like(outermost), np.ones_like(outermost)
        a = np.clip(isotherm.activity(np.maximum(outermost, 0.0) / dry_share), 0.02, 0.98)
        full = excess(high) >= 0.0
        for _ in range(MOST_NEWTON_STEPS):
            e = excess(a)
            low, high = np.where(e > 0.0, a, low), np.where(e > 0.0, high, a)
            slope = isotherm.water_content_slope(a) * dry_share
            newton = a + e / (g * slope + mass * saturated)
            better = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
            moved = np.abs(better - a)
            a = better
            if bool(np.all((moved < settled) | full)):
                break
        a = np.where(full, 1.0, a)
        return a, isotherm.water_content_slope(a) * dry_share


def _without_dew_that_runs_off(face: Face, outermost: Array) -> Face:
    """A full face takes up no more water: what condenses on it drips, and its heat is left out."""
    room = np.where(face.flux < 0.0, np.clip((1.0 - outermost) / LAST_POROUS_PART, 0.0, 1.0), 1.0)
    filling_up = (room > 0.0) & (room < 1.0)
    by_room = np.where(filling_up, -face.flux / LAST_POROUS_PART, 0.0)
    return Face(
        room * face.flux, room * face.by_saturation + by_room, room * face.by_temperature, face.heat_w_m2_k
    )
