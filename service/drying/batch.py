"""Many shells side by side, a column each: what of them does not change while they dry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import DTypeLike, NDArray

from service.drying.shell import Numbers, Parameters, Pocket, ZoneShape, for_each
from service.drying.transfer import pocket_path_m
from service.drying.zone import ZoneState, cell_m, diffusivity_multipliers, pore_water_kg_m3

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

NO_POCKET = Pocket(0.0, 1.0)


@dataclass(frozen=True)
class Stuff:
    """What shells are made of: cells (cells, columns), outermost first; what `used` leaves out is padding.

    density_kg_m3, dry_kg_m2: (columns,), of the newest coat and of the whole shell.
    """

    cell_m: Array
    pores_kg_m3: Array
    diffusivity_m2_s: Array
    used: Mask
    density_kg_m3: Array
    dry_kg_m2: Array


class Outside(NamedTuple):
    """How the air meets each column, (columns,); of a pocket what its air adds where nothing stirs it."""

    height_m: Array
    width_m: Array
    pocket_path_m: Array


class Shells:
    """The unchanging part of a batch. `parameters`: what all columns have in common, but for their multipliers.

    transfer: how much more the air takes; stirring: how much better than still vapour a pocket is stirred, (columns,).
    """

    def __init__(
        self, parameters: Parameters, stuff: Stuff, outside: Outside, transfer: Array, stirring: Array
    ) -> None:
        self.parameters, self.cells = parameters, len(stuff.cell_m)
        self.height_m, self.width_m, self.transfer = outside.height_m, outside.width_m, transfer
        self.pocket_path_m = outside.pocket_path_m / stirring
        self.dry_kg_m2 = stuff.dry_kg_m2
        self.dry_share = stuff.density_kg_m3 / stuff.pores_kg_m3[0]
        self.heat_j_m2_k = parameters.shell_heat_j_kg_k * stuff.dry_kg_m2 + parameters.wax_heat_j_m2_k
        self.holds = stuff.pores_kg_m3 * stuff.cell_m
        self.water_weight = self.holds * stuff.used
        self.twice_mass = 2.0 * np.concatenate([np.ones_like(self.holds[:1]), self.holds])
        self._conduct(stuff)

    def _conduct(self, stuff: Stuff) -> None:
        pores = 0.5 * (stuff.pores_kg_m3[1:] + stuff.pores_kg_m3[:-1])
        resistance = 0.5 * stuff.cell_m / stuff.diffusivity_m2_s
        self.conductance = stuff.used[1:] * pores / (resistance[1:] + resistance[:-1])
        self.half_cell = stuff.pores_kg_m3[0] / resistance[0]

    def only(self, keep: Mask) -> Self:
        """The same batch with fewer columns."""
        return self._each(lambda value: value[..., keep])

    def as_precise_as(self, precision: DTypeLike) -> Self:
        """Raises FloatingPointError where a number is too large for it."""
        with np.errstate(over="raise"):
            return self._each(lambda value: value.astype(precision))

    def _each(self, change: Callable[[Array], Array]) -> Self:
        other = copy(self)
        for name, value in self.__dict__.items():
            if isinstance(value, np.ndarray):
                setattr(other, name, change(value))
        return other


def shells_of(states: Sequence[ZoneState], numbers: Numbers) -> Shells:
    """The shells of these zones, each a column, padded on the wax side."""
    every = for_each(numbers, len(states))
    coats = [state.coats for state in states]
    whole = np.array([p.diffusivity_m2_s * p.diffusivity_multiplier for p in every])
    stuff = Stuff(
        padded([cell_m(c) for c in coats], 1.0),
        padded([pore_water_kg_m3(c) for c in coats], 1.0),
        whole * padded([diffusivity_multipliers(c) for c in coats], 1.0),
        padded([np.ones(s.saturation.size) for s in states], 0.0) > 0.0,
        np.array([c[-1].dry_density_kg_m3 for c in coats]),
        np.array([state.dry_mass_kg_m2 for state in states]),
    )
    stirring = np.array([p.pocket_stirring * p.stirring_multiplier for p in every])
    transfer = np.array([p.transfer_multiplier for p in every])
    return Shells(every[0], stuff, outside([state.shape for state in states]), transfer, stirring)


def outside(shapes: Sequence[ZoneShape]) -> Outside:
    pockets = [shape.pocket or NO_POCKET for shape in shapes]
    depth_m, width_m = (np.array([getattr(p, name) for p in pockets]) for name in ("depth_m", "width_m"))
    return Outside(
        np.array([shape.height_m for shape in shapes]),
        np.array([shape.width_m for shape in shapes]),
        pocket_path_m(depth_m, width_m, np.array([p.round_hole for p in pockets])),
    )


def padded(columns: Sequence[Array], fill: float) -> Array:
    """Columns of unequal length side by side, filled up below."""
    out = np.full((max(column.size for column in columns), len(columns)), fill)
    for i, column in enumerate(columns):
        out[: column.size, i] = column
    return out
