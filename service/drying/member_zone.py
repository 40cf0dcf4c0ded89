"""A zone with its doubt: many members that share shape, dips and time, and differ in their numbers.

Each member is one way the zone may really be. Arrays are (members,) or (rows, members), outermost cell first.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.zone import ZoneState, soak

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MemberZone:
    """One zone at one moment, as each of its members has it.

    coats: as the recipe asks, innermost first; what each member really has is `thickness` times as thick, and lets
    water through `diffusivity` times as fast, both (coats, members). transfer, stirring: (members,) multipliers of what
    the air takes, and of what comes out of a pocket. surface_k, evaporated_kg_m2: (members,);
    saturation: (coats * CELLS_PER_COAT, members).
    """

    shape: ZoneShape
    time_s: float
    transfer: Array
    stirring: Array
    surface_k: Array
    evaporated_kg_m2: Array
    coats: tuple[Coat, ...] = ()
    diffusivity: Array = field(default_factory=lambda: np.zeros((0, 0)))
    thickness: Array = field(default_factory=lambda: np.zeros((0, 0)))
    saturation: Array = field(default_factory=lambda: np.zeros((0, 0)))

    @property
    def members(self) -> int:
        return self.surface_k.size

    @property
    def newest_saturation(self) -> Array:
        """Mean saturation of the newest coat, (members,)."""
        out: Array = self.saturation[:CELLS_PER_COAT].mean(axis=0)
        return out

    @property
    def water_kg_m2(self) -> Array:
        by_coat = self.saturation.reshape(-1, CELLS_PER_COAT, self.members).mean(axis=1)[::-1]
        full = np.array([coat.pore_water_kg_m3 * coat.thickness_m for coat in self.coats])
        out: Array = (by_coat * self.thickness * full[:, None]).sum(axis=0)
        return out

    @property
    def pore_water_kg_m2(self) -> Array:
        """What each cell holds when it is full, (rows, members)."""
        full = np.array([coat.pore_water_kg_m3 * coat.thickness_m for coat in self.coats]) / CELLS_PER_COAT
        out: Array = np.repeat((full[:, None] * self.thickness)[::-1], CELLS_PER_COAT, axis=0)
        return out

    @property
    def dry_mass_kg_m2(self) -> Array:
        return np.array([coat.dry_mass_kg_m2 for coat in self.coats]) @ self.thickness

    @property
    def water_share(self) -> Array:
        """Water in the whole shell, kg a kg of dry shell, (members,)."""
        return self.water_kg_m2 / self.dry_mass_kg_m2

    def member(self, i: int) -> ZoneState:
        """One member alone, as a zone of its own."""
        coats = tuple(
            replace(
                coat,
                thickness_m=coat.thickness_m * float(self.thickness[n, i]),
                diffusivity_multiplier=coat.diffusivity_multiplier * float(self.diffusivity[n, i]),
            )
            for n, coat in enumerate(self.coats)
        )
        return ZoneState(
            self.shape,
            self.time_s,
            float(self.surface_k[i]),
            coats,
            self.saturation[:, i],
            float(self.evaporated_kg_m2[i]),
        )


@dataclass(frozen=True)
class Laid:
    """What each member makes of a dip: multipliers, (members,) each."""

    transfer: Array
    stirring: Array
    sorptivity: Array
    diffusivity: Array
    thickness: Array


def hang_members(shape: ZoneShape, air_k: float, time_s: float, members: int) -> MemberZone:
    """A wax without any coat yet, at the temperature of the air, with so many members."""
    ones = np.ones(members)
    return MemberZone(
        shape,
        time_s,
        ones,
        ones,
        np.full(members, air_k),
        np.zeros(members),
        diffusivity=np.zeros((0, members)),
        thickness=np.zeros((0, members)),
        saturation=np.zeros((0, members)),
    )


def dip_members(
    zone: MemberZone, coat: Coat, immersion_s: float, laid: Laid, parameters: Parameters
) -> MemberZone:
    """Lay a wet coat on every member, as `zone.dip` does on one zone."""
    soaked = zone.saturation
    if zone.coats:
        sorptivity = parameters.sorptivity_kg_m2_s05 * laid.sorptivity
        soaked = soak(soaked, zone.pore_water_kg_m2, sorptivity * float(np.sqrt(immersion_s)))
    return replace(
        zone,
        coats=(*zone.coats, coat),
        transfer=laid.transfer,
        stirring=laid.stirring,
        diffusivity=np.concatenate([zone.diffusivity, laid.diffusivity[None]]),
        thickness=np.concatenate([zone.thickness, laid.thickness[None]]),
        saturation=np.concatenate([np.ones((CELLS_PER_COAT, zone.members)), soaked]),
    )
