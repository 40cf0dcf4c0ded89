"""The shell as the drying computation sees it: coats, the shape of a zone, and the model's parameters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from service.drying.isotherm import Gab, Isotherm

WATER_DENSITY_KG_M3 = 998.0
CELLS_PER_COAT = 4
"""Cells a coat. Four differ from eight by less than 0.04 % on every reference `ready_h`."""


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat as laid: thickness, and what its dry stuff is like.

    porosity: share of the volume that water can fill, 0..1 (0.10 to 0.30 published for fired shells).
    dry_density_kg_m3: mass of dry coat a volume of coat (1650 for fused silica, assumed).
    diffusivity_multiplier: how much faster than the model's number water moves through this coat.
    """

    thickness_m: float
    porosity: float = 0.29
    dry_density_kg_m3: float = 1650.0
    diffusivity_multiplier: float = 1.0

    @property
    def pore_water_kg_m3(self) -> float:
        """Water that fills the pores, a volume of coat."""
        return self.porosity * WATER_DENSITY_KG_M3

    @property
    def dry_mass_kg_m2(self) -> float:
        return self.thickness_m * self.dry_density_kg_m3


@dataclass(frozen=True, slots=True)
class Pocket:
    """A blind hole (`round_hole`) or slot, where air hardly moves."""

    depth_m: float
    width_m: float
    round_hole: bool = True


@dataclass(frozen=True, slots=True)
class ZoneShape:
    """The outside of a zone as air meets it: height for still air, width for moving air."""

    height_m: float
    width_m: float
    pocket: Pocket | None = None

    @property
    def face_m2(self) -> float:
        """How much face it has, as far as its sizes say; of a pocket its wall and bottom."""
        hole = self.pocket
        if hole is None:
            return self.height_m * self.width_m
        if hole.round_hole:
            return math.pi * hole.width_m * (hole.depth_m + hole.width_m / 4.0)
        return (2.0 * hole.depth_m + hole.width_m) * self.height_m

    @property
    def coated_m2(self) -> float:
        """How much of the piece a coat covers there: it has a back as well as a face; a pocket has none."""
        return self.face_m2 if self.pocket else 2.0 * self.face_m2


@dataclass(frozen=True, slots=True)
class Parameters:
    """The model's numbers. All but those with a source in `service.drying` are assumed and may be learned.

    The multipliers are 1 for the plain estimate; they may differ from zone to zone of a batch.
    """

    diffusivity_m2_s: float = 4e-10  # D0 (assumed; literature 1e-10 to 1e-8)
    diffusivity_slope: float = 3.0  # b in exp(b s) (assumed)
    activation_energy_j_mol: float = 18e3  # E (assumed)
    isotherm: Isotherm = field(default_factory=Gab)
    sorptivity_kg_m2_s05: float = 0.05  # S (assumed)
    latent_heat_j_kg: float = 2.45e6
    shell_heat_j_kg_k: float = 900.0
    wax_heat_j_m2_k: float = 9500.0  # about 5 mm of wax takes part (assumed)
    emissivity: float = 0.9
    pocket_stirring: float = 8.0  # X (assumed)
    transfer_multiplier: float = 1.0
    diffusivity_multiplier: float = 1.0
    thickness_multiplier: float = 1.0
    sorptivity_multiplier: float = 1.0
    stirring_multiplier: float = 1.0


Numbers = Parameters | Sequence[Parameters]
"""Of all zones of a batch the same, or of each its own: then only their multipliers may differ."""


def for_each(numbers: Numbers, zones: int) -> tuple[Parameters, ...]:
    """One for each zone. Raises ValueError where there are too few, or more than the multipliers differ."""
    if isinstance(numbers, Parameters):
        return (numbers,) * zones
    if len(numbers) != zones:
        raise ValueError("each zone of a batch needs parameters of its own")
    first = plain(numbers[0]) if numbers else None
    if any(one is not numbers[0] and plain(one) != first for one in numbers):
        raise ValueError("within a batch only the multipliers may differ")
    return tuple(numbers)


def plain(parameters: Parameters) -> Parameters:
    """The same with every multiplier 1."""
    return replace(
        parameters,
        transfer_multiplier=1.0,
        diffusivity_multiplier=1.0,
        thickness_multiplier=1.0,
        sorptivity_multiplier=1.0,
        stirring_multiplier=1.0,
    )
