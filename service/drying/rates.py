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
FIRST_GUESS = 0.9
"""Of the water activity at a face, before anything is known of it: a wet one's."""


class Face(NamedTuple):
    """What leaves the face of each zone, and how that answers to the outermost cell and the temperature."""

    flux: Array
    by_saturation: Array
    by_temperature: Array
    heat_w_m2_k: Array


class Change(NamedTuple):
    """What a step would change if all went on as it does now, and how that answers.

    rows: K of the surface, then kg/m2 gained by each cell; left: kg/m2 that leave the face. Between each cell and the
    next: by how much its saturation is above, and what flows for a difference of one; these two are written over by
    the next change, the rows by the next but one.
    """

    rows: Array
    left: Array
    face: Face
    difference: Array
    conductance: Array


class Work:
    """Room for the arrays of a step, kept from step to step: to ask for it anew takes a fifth of the time."""

    def __init__(self, cells: int, like: Array) -> None:
        self.difference, self.conductance, self.inner = np.empty((3, cells - 1, like.size), like.dtype)
        self.lower, self.diagonal, self.upper, self.spare = np.empty((4, cells + 1, like.size), like.dtype)
        self.rows = [*np.empty((2, cells + 1, like.size), like.dtype)]


class Derivative:
    """The right-hand side under one step's mean air. The activity at the face is kept, to start from the next time."""

    def __init__(
        self, shells: Shells, air: Air, activity: Array | None = None, work: Work | None = None
    ) -> None:
        self.shells, self.air = shells, air
        self.activity = np.full_like(shells.height_m, FIRST_GUESS) if activity is None else activity
        self.work = work or Work(shells.cells, shells.height_m)
        self.vapour = moist_air.vapour_density_kg_m3(air.temperature_k, air.humidity)
        diffusivity = moist_air.vapour_diffusivity_m2_s(air.temperature_k, air.pressure_pa)
        self.pocket_s_m = shells.pocket_path_m / diffusivity
        self.forced_w_m2_k = transfer.forced_convection_w_m2_k(
            air.temperature_k, air.speed_m_s, shells.width_m, air.pressure_pa
        )

    def change(self, u: Array, step_s: Array) -> Change:
        """u: (1 + cells, columns), the surface temperature and then the saturations; step_s: (columns,)."""
        surface_k, saturation, work = u[0], u[1:], self.work
        self.work.rows.reverse()
        warm = self._arrhenius(surface_k)
        face = self._face(surface_k, saturation[0], warm)
        g = np.add(saturation[1:], saturation[:-1], out=work.conductance)
        g *= 0.5 * self.shells.parameters.diffusivity_slope
        np.exp(g, out=g)
        g *= self.shells.conductance
        g *= warm * step_s
        difference = np.subtract(saturation[1:], saturation[:-1], out=work.difference)
        left = step_s * face.flux
        rows = work.rows[0]
        rows[0] = self._warming(face, surface_k) * step_s
        _gained(np.multiply(g, difference, out=work.inner), left, rows[1:])
        return Change(rows, left, face, difference, g)

    def _warming(self, face: Face, surface_k: Array) -> Array:
        heat = face.heat_w_m2_k * (self.air.temperature_k - surface_k)
        out: Array = heat - self.shells.parameters.latent_heat_j_kg * face.flux
        return out / self.shells.heat_j_m2_k

    def _arrhenius(self, surface_k: Array) -> Array:
        energy = self.shells.parameters.activation_energy_j_mol / GAS_CONSTANT_J_MOL_K
        out: Array = np.exp(energy * (1.0 / REFERENCE_K - 1.0 / surface_k))
        return out

    def _face(self, surface_k: Array, outermost: Array, warm: Array) -> Face:
        heat, mass = self._transfer(surface_k)
        saturated = moist_air.vapour_density_kg_m3(surface_k, 1.0)
        b = self.shells.parameters.diffusivity_slope
        g = self.shells.half_cell * warm * np.exp(b * outermost)
        activity, slope = self._face_activity(outermost, g, mass, saturated)
        flux = mass * (activity * saturated - self.vapour)
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
        """Water activity at the very face, and d(saturation)/d(activity) there.

        What comes through the half cell leaves to the air. Newton, held to 0..1: as an isotherm bends one way and then
        the other, he comes there from any side.
        """
        isotherm, share = self.shells.parameters.isotherm, self.shells.dry_share
        brought, carried = g * outermost + mass * self.vapour, mass * saturated
        held = g * share
        most = float(isotherm.water_content(np.ones(1))[0])
        full = brought - held * most - carried >= 0.0
        a = self.activity
        settled = np.finfo(a.dtype).eps ** 0.75
        for _ in range(MOST_NEWTON_STEPS):
            slope = isotherm.water_content_slope(a)
            excess = brought - held * isotherm.water_content(a) - carried * a
            better = np.minimum(np.maximum(a + excess / (held * slope + carried), 0.0), 1.0)
            moved, a = np.abs(better - a), better
            if not bool(((moved > settled) & ~full).any()):
                break
        self.activity = a
        return np.where(full, 1.0, a), slope * share


def _gained(inner: Array, left: Array, out: Array) -> None:
    """What each cell gains of what flows outward between them and leaves at the face."""
    np.subtract(inner[1:], inner[:-1], out=out[1:-1])
    out[0], out[-1] = inner[0] - left, -inner[-1]


def _without_dew_that_runs_off(face: Face, outermost: Array) -> Face:
    """A full face takes up no more water: what condenses on it drips, and its heat is left out."""
    room = np.where(face.flux < 0.0, np.clip((1.0 - outermost) / LAST_POROUS_PART, 0.0, 1.0), 1.0)
    filling_up = (room > 0.0) & (room < 1.0)
    by_room = np.where(filling_up, -face.flux / LAST_POROUS_PART, 0.0)
    return Face(
        room * face.flux, room * face.by_saturation + by_room, room * face.by_temperature, face.heat_w_m2_k
    )
