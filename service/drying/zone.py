"""One zone of a mould at one moment, and what a dip does to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ZoneState:
    """One zone at one moment.

    coats: as laid, innermost first. saturation: (len(coats) * CELLS_PER_COAT,) outermost cell first, 0..1.
    surface_k: of the outer face. evaporated_kg_m2: water that has left so far, all coats together.
    """

    shape: ZoneShape
    time_s: float
    surface_k: float
    coats: tuple[Coat, ...] = ()
    saturation: Array = field(default_factory=lambda: np.zeros(0))
    evaporated_kg_m2: float = 0.0

    @property
    def coat_saturations(self) -> Array:
        """Mean saturation of each coat, innermost first."""
        by_coat: Array = self.saturation.reshape(-1, CELLS_PER_COAT).mean(axis=1)[::-1]
        return by_coat

    @property
    def newest_saturation(self) -> float:
        return float(self.saturation[:CELLS_PER_COAT].mean())

    @property
    def water_kg_m2(self) -> float:
        return float(self.saturation @ (pore_water_kg_m3(self.coats) * cell_m(self.coats)))

    @property
    def dry_mass_kg_m2(self) -> float:
        return sum(coat.dry_mass_kg_m2 for coat in self.coats)

    @property
    def water_share(self) -> float:
        """Water in the whole shell, kg a kg of dry shell."""
        return self.water_kg_m2 / self.dry_mass_kg_m2


@dataclass(frozen=True)
class Limits:
    """What is waited for: mean saturation of the newest coat, and water share of the whole shell."""

    ready_saturation: float = 0.35
    water_share: float = 0.02


def hang(shape: ZoneShape, air_k: float, time_s: float) -> ZoneState:
    """A wax without any coat yet, at the temperature of the air."""
    return ZoneState(shape, time_s, air_k)


def dip(state: ZoneState, coat: Coat, immersion_s: float, parameters: Parameters) -> ZoneState:
    """Lay a wet coat and let water soak back into the coats under it, outermost cell first."""
    soaked = state.saturation
    if state.coats:
        sorptivity = parameters.sorptivity_kg_m2_s05 * parameters.sorptivity_multiplier
        pores = pore_water_kg_m3(state.coats) * cell_m(state.coats)
        soaked = soak(state.saturation, pores, sorptivity * float(np.sqrt(immersion_s)))
    laid = replace(coat, thickness_m=coat.thickness_m * parameters.thickness_multiplier)
    saturation = np.concatenate([np.ones(CELLS_PER_COAT), soaked])
    return replace(state, coats=(*state.coats, laid), saturation=saturation)


def soak(saturation: Array, pores_kg_m2: Array, water_kg_m2: Array | float) -> Array:
    """Cells filled up with so much water, outermost first. pores_kg_m2: what each cell holds."""
    room = np.maximum(1.0 - saturation, 0.0) * pores_kg_m2
    taken_before = np.cumsum(room, axis=0) - room
    return saturation + np.clip(water_kg_m2 - taken_before, 0.0, room) / pores_kg_m2


def cell_m(coats: Sequence[Coat]) -> Array:
    return np.repeat([coat.thickness_m / CELLS_PER_COAT for coat in reversed(coats)], CELLS_PER_COAT)


def pore_water_kg_m3(coats: Sequence[Coat]) -> Array:
    return np.repeat([coat.pore_water_kg_m3 for coat in reversed(coats)], CELLS_PER_COAT)


def diffusivity_multipliers(coats: Sequence[Coat]) -> Array:
    return np.repeat([coat.diffusivity_multiplier for coat in reversed(coats)], CELLS_PER_COAT)
