"""How fast a batch of zones dries right now, and how that answers to its own state."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying import air as moist_air
from service.drying import transfer
from service.drying.shell import Numbers, Pocket, for_each
from service.drying.weather import Air
from service.drying.zone import ZoneState, cell_m, diffusivity_multipliers, pore_water_kg_m3

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

GAS_CONSTANT_J_MOL_K = 8.314462618
REFERENCE_K = 293.15
CLAUSIUS_CLAPEYRON_K = 2.45e6 / 461.5  # latent heat over the gas constant of vapour; steers the step only
LAST_POROUS_PART = 0.01
"""A face that fills up takes less and less dew over the last hundredth of its pores (our choice)."""


class Face(NamedTuple):
    """What leaves the face of each zone, and how that answers to the outermost cell and the temperature."""

    flux: Array
    by_saturation: Array
    by_temperature: Array
    heat_w_m2_k: Array


class Slope(NamedTuple):
    """Time derivatives: of the surface temperature, the saturations, and the water that has left."""

    surface: Array
    saturation: Array
    evaporated: Array


class Shells:
    """The unchanging part of a batch: shapes and coats, (cells, zones), padded on the wax side.

    `parameters`: what all zones have in common; their multipliers are in `transfer` and in the conductances.
    """

    def __init__(self, states: Sequence[ZoneState], numbers: Numbers) -> None:
        every = for_each(numbers, len(states))
        self.parameters = every[0]
        self.transfer = np.array([p.transfer_multiplier for p in every])
        self.stirring = np.array([p.pocket_stirring * p.stirring_multiplier for p in every])
        whole = np.array([p.diffusivity_m2_s * p.diffusivity_multiplier for p in every])
        self.cells = max(state.saturation.size for state in states)
        self.cell_m = self.padded([cell_m(s.coats) for s in states], 1.0)
        self.pores = self.padded([pore_water_kg_m3(s.coats) for s in states], 1.0)
        self.diffusivity = whole * self.padded([diffusivity_multipliers(s.coats) for s in states], 1.0)
        self.density = np.array([s.coats[-1].dry_density_kg_m3 for s in states])
        self.dry_kg_m2 = np.array([s.dry_mass_kg_m2 for s in states])
        self.height_m = np.array([s.shape.height_m for s in states])
        self.width_m = np.array([s.shape.width_m for s in states])
        pockets = [s.shape.pocket or Pocket(0.0, 1.0) for s in states]
        self.pocket_depth_m = np.array([p.depth_m for p in pockets])
        self.pocket_width_m = np.array([p.width_m for p in pockets])
        self.pocket_round = np.array([p.round_hole for p in pockets])
        used = self.padded([np.ones(s.saturation.size) for s in states], 0.0)
        self._derive(used)

    def padded(self, columns: Sequence[Array], fill: float) -> Array:
        out = np.full((self.cells, len(columns)), fill)
        for i, column in enumerate(columns):
            out[: column.size, i] = column
        return out

    def _derive(self, used: Array) -> None:
        p = self.parameters
        self.holds = self.pores * self.cell_m
        self.water_weight = self.holds * used
        pores = 0.5 * (self.pores[1:] + self.pores[:-1])
        resistance = 0.5 * (self.cell_m[1:] / self.diffusivity[1:] + self.cell_m[:-1] / self.diffusivity[:-1])
        self.conductance = used[1:] * pores / resistance
        self.half_cell = 2.0 * self.pores[0] * self.diffusivity[0] / self.cell_m[0]
        self.heat_j_m2_k = p.shell_heat_j_kg_k * self.dry_kg_m2 + p.wax_heat_j_m2_k

    def only(self, keep: Mask) -> Shells:
        """The same batch with fewer zones."""
        less = object.__new__(Shells)
        for name, value in self.__dict__.items():
            setattr(less, name, value[..., keep] if isinstance(value, np.ndarray) else value)
        return less


class Derivative:
    """The right-hand side under one step's mean air, with its Jacobian as three diagonals."""

    def __init__(self, shells: Shells, air: Air) -> None:
        self.shells = shells
        self.air = air
        self.vapour = moist_air.vapour_density_kg_m3(air.temperature_k, air.humidity)
        self.pocket_s_m = transfer.pocket_resistance_s_m(
            shells.pocket_depth_m,
            shells.pocket_width_m,
            shells.pocket_round,
            air.temperature_k,
            air.pressure_pa,
            shells.stirring,
        )

    def slope(self, surface_k: Array, saturation: Array) -> tuple[Slope, Face, Array, Array]:
        """Slopes now, and the face, the inner fluxes and the conductances they came from."""
        warm = self._arrhenius(surface_k)
        g = self.shells.conductance * warm * self._diffusion_factor(0.5 * (saturation[1:] + saturation[:-1]))
        inner = g * (saturation[1:] - saturation[:-1])
        face = self._face(surface_k, saturation[0], warm)
        gain = np.empty_like(saturation)
        gain[:-1] = inner
        gain[-1] = 0.0
        gain[1:] -= inner
        gain[0] -= face.flux
        heat = face.heat_w_m2_k * (self.air.temperature_k - surface_k)
        cooling = self.shells.parameters.latent_heat_j_kg * face.flux
        warming = (heat - cooling) / self.shells.heat_j_m2_k
        return Slope(warming, gain / self.shells.holds, face.flux), face, inner, g

    def _arrhenius(self, surface_k: Array) -> Array:
        energy = self.shells.parameters.activation_energy_j_mol / GAS_CONSTANT_J_MOL_K
        out: Array = np.exp(energy * (1.0 / REFERENCE_K - 1.0 / surface_k))
        return out

    def _diffusion_factor(self, saturation: Array) -> Array:
        out: Array = np.exp(self.shells.parameters.diffusivity_slope * saturation)
        return out

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
        s, a = self.shells, self.air
        film_k = 0.5 * (a.temperature_k + surface_k)
        h = s.transfer * transfer.convection_w_m2_k(
            a.temperature_k, surface_k, a.speed_m_s, s.height_m, s.width_m, a.pressure_pa
        )
        open_face = transfer.mass_transfer_m_s(h, film_k, a.pressure_pa)
        radiation = transfer.radiation_w_m2_k(film_k, s.parameters.emissivity)
        return h + radiation, 1.0 / (1.0 / open_face + self.pocket_s_m)

    def _face_activity(
        self, outermost: Array, g: Array, mass: Array, saturated: Array
    ) -> tuple[Array, Array]:
        """Water activity at the very face: what comes through the half cell leaves to the air.

        Newton on a falling function of the activity, kept between bounds that close in. Also d(saturation)/d(activity).
        """
        isotherm = self.shells.parameters.isotherm
        dry_share = self.shells.density / self.shells.pores[0]

        def excess(a: Array) -> Array:
            arriving = g * (outermost - isotherm.water_content(a) * dry_share)
            out: Array = arriving - mass * (a * saturated - self.vapour)
            return out

        low, high = np.zeros_like(outermost), np.ones_like(outermost)
        a = np.clip(isotherm.activity(np.maximum(outermost, 0.0) / dry_share), 0.02, 0.98)
        full = excess(high) >= 0.0
        for _ in range(60):
            e = excess(a)
            low, high = np.where(e > 0.0, a, low), np.where(e > 0.0, high, a)
            slope = isotherm.water_content_slope(a) * dry_share
            newton = a + e / (g * slope + mass * saturated)
            better = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
            moved = np.abs(better - a)
            a = better
            if bool(np.all((moved < 1e-12) | full)):
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
