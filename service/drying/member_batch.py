"""From zones with members to the columns of one batch, a zone's members side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import DTypeLike, NDArray

from service.drying.batch import Outside, Shells, Stuff, outside
from service.drying.member_zone import MemberZone
from service.drying.rosenbrock import State
from service.drying.shell import CELLS_PER_COAT, Parameters

Array = NDArray[np.float64]


def shells_of_members(zones: Sequence[MemberZone], parameters: Parameters) -> Shells:
    transfer = parameters.transfer_multiplier * np.concatenate([zone.transfer for zone in zones])
    stirred = parameters.pocket_stirring * parameters.stirring_multiplier
    stirring = stirred * np.concatenate([zone.stirring for zone in zones])
    sizes = outside([zone.shape for zone in zones])
    around = Outside(*(np.repeat(size, zones[0].members) for size in sizes))
    return Shells(parameters, _stuff(zones, parameters), around, transfer, stirring)


def _stuff(zones: Sequence[MemberZone], parameters: Parameters) -> Stuff:
    diffusivity = parameters.diffusivity_m2_s * parameters.diffusivity_multiplier
    newest = [zone.coats[-1].dry_density_kg_m3 for zone in zones]
    return Stuff(
        _cells(zones, lambda zone: zone.thickness * _of_coats(zone, "thickness_m") / CELLS_PER_COAT, 1.0),
        _cells(zones, lambda zone: np.ones_like(zone.thickness) * _of_coats(zone, "pore_water_kg_m3"), 1.0),
        diffusivity
        * _cells(zones, lambda zone: zone.diffusivity * _of_coats(zone, "diffusivity_multiplier"), 1.0),
        _cells(zones, lambda zone: np.ones_like(zone.thickness), 0.0) > 0.0,
        np.repeat(newest, zones[0].members),
        np.concatenate([zone.dry_mass_kg_m2 for zone in zones]),
    )


def _of_coats(zone: MemberZone, name: str) -> Array:
    return np.array([getattr(coat, name) for coat in zone.coats])[:, None]


def _cells(zones: Sequence[MemberZone], by_coat: Callable[[MemberZone], Array], fill: float) -> Array:
    """(cells, columns), outermost first, of what each coat of a zone's members is like, innermost first."""
    members = zones[0].members
    coats = np.full((max(len(zone.coats) for zone in zones), len(zones) * members), fill)
    for n, zone in enumerate(zones):
        coats[: len(zone.coats), n * members : (n + 1) * members] = by_coat(zone)[::-1]
    return np.repeat(coats, CELLS_PER_COAT, axis=0)


def state_of_members(zones: Sequence[MemberZone], precision: DTypeLike) -> State:
    members = zones[0].members
    rows = np.zeros((1 + max(len(zone.saturation) for zone in zones), len(zones) * members), precision)
    for n, zone in enumerate(zones):
        columns = slice(n * members, (n + 1) * members)
        rows[0, columns] = zone.surface_k
        rows[1 : 1 + len(zone.saturation), columns] = zone.saturation
    return State(rows, np.concatenate([zone.evaporated_kg_m2 for zone in zones]))
