"""A zone with its doubt: many members that share shape, dips and time, and differ in their numbers.

Each member is one way the zone may really be. Arrays are (members,) or (rows, members), outermost cell first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip

Array = NDArray[np.float64]

LEAST_HUMIDITY, MOST_HUMIDITY = 0.02, 1.0


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


@dataclass(frozen=True)
class MemberAir:
    """Air that is not known: `base`, plus each member's share of some ways in which it may come otherwise.

    time_s: (n,) increasing, of the ways; held flat before and after. temperature_k, humidity: (ways, n), added to the
    base. shares: (members, ways). Humidity is held to 0.02..1.
    """

    base: AirSeries
    time_s: Array
    temperature_k: Array
    humidity: Array
    shares: Array

    def of(self, member: int) -> AirSeries:
        """The air as this member has it."""
        share = self.shares[member]
        time_s = np.union1d(self.base.time_s, self.time_s)
        here = self.base.at(time_s)
        warmer = np.interp(time_s, self.time_s, share @ self.temperature_k)
        damper = np.interp(time_s, self.time_s, share @ self.humidity)
        humidity = np.clip(here.humidity + damper, LEAST_HUMIDITY, MOST_HUMIDITY)
        return AirSeries(time_s, here.temperature_k + warmer, humidity, here.speed_m_s, here.pressure_pa)


@dataclass(frozen=True)
class Advanced:
    """What became of a zone's members. ready_s, dry_s: (members,), as in `solver.Dried`; nan where not reached."""

    zone: MemberZone
    ready_s: Array
    dry_s: Array


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
    saturations = []
    for i in range(zone.members):
        numbers = replace(parameters, sorptivity_multiplier=float(laid.sorptivity[i]))
        saturations.append(dip(zone.member(i), coat, immersion_s, numbers).saturation)
    return replace(
        zone,
        coats=(*zone.coats, coat),
        transfer=laid.transfer,
        stirring=laid.stirring,
        diffusivity=np.concatenate([zone.diffusivity, laid.diffusivity[None]]),
        thickness=np.concatenate([zone.thickness, laid.thickness[None]]),
        saturation=np.stack(saturations, axis=1),
    )


def advance_members(
    zones: Sequence[MemberZone],
    until_s: Sequence[float],
    air: AirSeries | MemberAir,
    parameters: Parameters,
    limits: Sequence[Limits],
    stop_when_dry: bool = False,
) -> list[Advanced]:
    """Dry every member of each zone to the zone's own `until_s` (or until its limits are behind it).

    All zones hang in the same air and have equally many members. With `stop_when_dry` members end at times of their own, and `zone.time_s`
    is the latest of them: only ready_s and dry_s tell anything then. Raises as `solver.advance`.
    """
    if not zones:
        return []
    if isinstance(air, AirSeries):
        columns = _together(zones, until_s, air, parameters, limits, stop_when_dry, range(zones[0].members))
    else:
        columns = [
            column
            for i in range(zones[0].members)
            for column in _together(zones, until_s, air.of(i), parameters, limits, stop_when_dry, [i])
        ]
    return [_advanced(zone, columns[n :: len(zones)]) for n, zone in enumerate(zones)]


def _together(zones, until_s, air, parameters, limits, stop_when_dry, members):  # type: ignore[no-untyped-def]
    states = [zone.member(i) for i in members for zone in zones]
    numbers = [
        replace(
            parameters,
            transfer_multiplier=parameters.transfer_multiplier * float(zone.transfer[i]),
            stirring_multiplier=parameters.stirring_multiplier * float(zone.stirring[i]),
        )
        for i in members
        for zone in zones
    ]
    times = len(members)
    return advance(states, list(until_s) * times, air, numbers, list(limits) * times, stop_when_dry)


def _advanced(zone, own):  # type: ignore[no-untyped-def]
    state = replace(
        zone,
        time_s=max(d.state.time_s for d in own),
        surface_k=np.array([d.state.surface_k for d in own]),
        evaporated_kg_m2=np.array([d.state.evaporated_kg_m2 for d in own]),
        saturation=np.stack([d.state.saturation for d in own], axis=1),
    )
    none = float("nan")
    return Advanced(
        state,
        np.array([none if d.ready_s is None else d.ready_s for d in own]),
        np.array([none if d.dry_s is None else d.dry_s for d in own]),
    )
