"""A zone with its doubt: many members that share shape, dips and time, and differ in their numbers.

Each member is one way the zone may really be. Arrays are (members,) or (rows, members), outermost cell first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import DTypeLike, NDArray

from service.drying.batch import Outside, Shells, Stuff, outside
from service.drying.march import Arrived, March, Pace, Way, Weather
from service.drying.rosenbrock import State
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.weather import Air, AirSeries, Lines
from service.drying.zone import Limits, ZoneState, soak

Array = NDArray[np.float64]

LEAST_HUMIDITY, MOST_HUMIDITY = 0.02, 1.0
PRECISION: DTypeLike = np.float32
PACE = Pace(first_s=60.0, longest_s=3600.0, saturation=1.5e-3, temperature_k=0.3)
COLUMNS, FEWEST_COLUMNS = 8192, 2048
"""How many members at most are worked out at once, and how many make a second thread worth while (measured)."""
THREADS = 2
"""A page must not wait for members: two cores of a small computer's four."""


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
    base. shares: (members, ways). Humidity is held to 0.02..1 at every point of either series, and runs straight
    between them: means over a step are exact means of these lines.
    """

    base: AirSeries
    time_s: Array
    temperature_k: Array
    humidity: Array
    shares: Array

    def of(self, member: int) -> AirSeries:
        """The air as this member has it."""
        here, temperature_k, humidity = self._points
        return AirSeries(
            self._time_s, temperature_k[member], humidity[member], here.speed_m_s, here.pressure_pa
        )

    def mean(self, start_s: Array, end_s: Array, members: NDArray[np.intp]) -> Air:
        """As `AirSeries.mean`, each step in the air of the member named with it."""
        return self._lines.mean(start_s, end_s, members)

    @cached_property
    def _time_s(self) -> Array:
        return np.union1d(self.base.time_s, self.time_s)

    @cached_property
    def _points(self) -> tuple[Air, Array, Array]:
        """The base, and every member's temperature and humidity (members, n)."""
        here = self.base.at(self._time_s)
        warmer, damper = (
            self.shares @ np.stack([np.interp(self._time_s, self.time_s, way) for way in ways])
            for ways in (self.temperature_k, self.humidity)
        )
        humidity = np.clip(here.humidity + damper, LEAST_HUMIDITY, MOST_HUMIDITY)
        return here, here.temperature_k + warmer, humidity

    @cached_property
    def _lines(self) -> Lines:
        here, temperature_k, humidity = self._points
        shared = [np.broadcast_to(values, humidity.shape) for values in (here.speed_m_s, here.pressure_pa)]
        return Lines(self._time_s, np.stack([temperature_k, humidity, *shared]))


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
    soaked = zone.saturation
    if zone.coats:
        sorptivity = parameters.sorptivity_kg_m2_s05 * laid.sorptivity
        soaked = soak(soaked, _pore_water_kg_m2(zone), sorptivity * float(np.sqrt(immersion_s)))
    return replace(
        zone,
        coats=(*zone.coats, coat),
        transfer=laid.transfer,
        stirring=laid.stirring,
        diffusivity=np.concatenate([zone.diffusivity, laid.diffusivity[None]]),
        thickness=np.concatenate([zone.thickness, laid.thickness[None]]),
        saturation=np.concatenate([np.ones((CELLS_PER_COAT, zone.members)), soaked]),
    )


def _pore_water_kg_m2(zone: MemberZone) -> Array:
    """What each cell holds when it is full, (rows, members)."""
    full = np.array([coat.pore_water_kg_m3 * coat.thickness_m for coat in zone.coats]) / CELLS_PER_COAT
    out: Array = np.repeat((full[:, None] * zone.thickness)[::-1], CELLS_PER_COAT, axis=0)
    return out


def advance_members(
    zones: Sequence[MemberZone],
    until_s: Sequence[float],
    air: AirSeries | MemberAir,
    parameters: Parameters,
    limits: Sequence[Limits],
    stop_when_dry: bool = False,
    threads: int = THREADS,
) -> list[Advanced]:
    """Dry every member of each zone to the zone's own `until_s` (or until its limits are behind it).

    All zones hang in the same air and have equally many members. With `stop_when_dry` members end at times of their
    own, and `zone.time_s` is the latest of them: only ready_s and dry_s tell anything then. Raises as `solver.advance`.
    threads: how many cores may be busy with it.
    """
    _check(zones, until_s, air, limits)
    if threads < 1:
        raise ValueError("members need at least one thread to dry on")

    def dried(chunk: Sequence[int]) -> list[Advanced]:
        way = _way([zones[n] for n in chunk], [until_s[n] for n in chunk], [limits[n] for n in chunk])
        return _advanced([zones[n] for n in chunk], way, air, parameters, stop_when_dry)

    chunks = _chunks(zones, threads)
    with ThreadPoolExecutor(threads) as pool:
        done = pool.map(dried, chunks) if len(chunks) > 1 and threads > 1 else map(dried, chunks)
        found = {
            n: own
            for chunk, owns in zip(chunks, done, strict=True)
            for n, own in zip(chunk, owns, strict=True)
        }
    return [found[n] for n in range(len(zones))]


def _check(
    zones: Sequence[MemberZone],
    until_s: Sequence[float],
    air: AirSeries | MemberAir,
    limits: Sequence[Limits],
) -> None:
    if not len(zones) == len(until_s) == len(limits):
        raise ValueError("each zone needs an end and limits of its own")
    if any(not zone.coats for zone in zones):
        raise ValueError("a zone without a coat cannot dry")
    if any(end < zone.time_s for zone, end in zip(zones, until_s, strict=True)):
        raise ValueError("a zone cannot be dried backwards")
    if len({zone.members for zone in zones}) > 1:
        raise ValueError("zones dried together need equally many members")
    if zones and isinstance(air, MemberAir) and len(air.shares) != zones[0].members:
        raise ValueError("the air needs a share for each member")


def _chunks(zones: Sequence[MemberZone], threads: int) -> list[list[int]]:
    """Zones dried together: of like many coats, so that few cells are padding, and as many chunks for each thread."""
    order = sorted(range(len(zones)), key=lambda n: len(zones[n].coats))
    columns = sum(zone.members for zone in zones)
    rounds = math.ceil(columns / (COLUMNS * threads))
    chunks = rounds * threads if columns > FEWEST_COLUMNS * threads else rounds
    size = math.ceil(len(zones) / max(chunks, 1))
    return [order[i : i + size] for i in range(0, len(order), max(size, 1))]


def _way(zones: Sequence[MemberZone], until_s: Sequence[float], limits: Sequence[Limits]) -> Way:
    members = zones[0].members
    each = (
        [zone.time_s for zone in zones],
        until_s,
        [limit.ready_saturation for limit in limits],
        [limit.water_share for limit in limits],
    )
    return Way(*(np.repeat(np.array(values, float), members) for values in each))


def _advanced(
    zones: Sequence[MemberZone], way: Way, air: AirSeries | MemberAir, parameters: Parameters, stop: bool
) -> list[Advanced]:
    shells = _shells(zones, parameters).as_precise_as(PRECISION)
    weather = _weather(air, zones[0].members)
    arrived = March(shells, _state(zones), way, weather, PACE, stop).to_the_end()
    return [_taken_out(zone, n, arrived) for n, zone in enumerate(zones)]


def _weather(air: AirSeries | MemberAir, members: int) -> Weather:
    if isinstance(air, AirSeries):
        return lambda start_s, end_s, _: air.mean(start_s, end_s)
    return lambda start_s, end_s, columns: air.mean(start_s, end_s, columns % members)


def _shells(zones: Sequence[MemberZone], parameters: Parameters) -> Shells:
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


def _state(zones: Sequence[MemberZone]) -> State:
    members = zones[0].members
    rows = np.zeros((1 + max(len(zone.saturation) for zone in zones), len(zones) * members), PRECISION)
    for n, zone in enumerate(zones):
        columns = slice(n * members, (n + 1) * members)
        rows[0, columns] = zone.surface_k
        rows[1 : 1 + len(zone.saturation), columns] = zone.saturation
    return State(rows, np.concatenate([zone.evaporated_kg_m2 for zone in zones]))


def _taken_out(zone: MemberZone, n: int, arrived: Arrived) -> Advanced:
    own = slice(n * zone.members, (n + 1) * zone.members)
    after = replace(
        zone,
        time_s=float(arrived.time_s[own].max()),
        surface_k=arrived.state.surface[own].astype(np.float64),
        saturation=arrived.state.saturation[: len(zone.saturation), own].astype(np.float64),
    )
    # What left is what is missing: what went step by step adds up to it in single precision to some millionths only.
    left = zone.evaporated_kg_m2 + zone.water_kg_m2 - after.water_kg_m2
    return Advanced(
        replace(after, evaporated_kg_m2=left), arrived.ready_s[own].copy(), arrived.dry_s[own].copy()
    )
