"""Zones with their doubt, dried: all members of many zones side by side, in single precision."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import DTypeLike, NDArray

from service.drying.march import Arrived, March, Pace, Way, Weather
from service.drying.member_air import LEAST_HUMIDITY, MOST_HUMIDITY, MemberAir
from service.drying.member_batch import shells_of_members, state_of_members
from service.drying.member_zone import Laid, MemberZone, dip_members, hang_members
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import Limits

__all__ = [
    "LEAST_HUMIDITY",
    "MOST_HUMIDITY",
    "Advanced",
    "Laid",
    "MemberAir",
    "MemberZone",
    "advance_members",
    "dip_members",
    "hang_members",
]

Array = NDArray[np.float64]

PRECISION: DTypeLike = np.float32
PACE = Pace(first_s=60.0, longest_s=3600.0, saturation=1.5e-3, temperature_k=0.3)
COLUMNS = 8192
"""How many members at most are worked out at once: fewer are lost in calls, more in memory (measured)."""


@dataclass(frozen=True)
class Advanced:
    """What became of a zone's members. ready_s, dry_s: (members,), as in `solver.Dried`; nan where not reached."""

    zone: MemberZone
    ready_s: Array
    dry_s: Array


def advance_members(
    zones: Sequence[MemberZone],
    until_s: Sequence[float],
    air: AirSeries | MemberAir,
    parameters: Parameters,
    limits: Sequence[Limits],
    stop_when_dry: bool = False,
) -> list[Advanced]:
    """Dry every member of each zone to the zone's own `until_s` (or until its limits are behind it).

    All zones hang in the same air and have equally many members. With `stop_when_dry` members end at times of their
    own, and `zone.time_s` is the latest of them: only ready_s and dry_s tell anything then. Raises as `solver.advance`.
    """
    _check(zones, until_s, air, limits)
    found: dict[int, Advanced] = {}
    for chunk in _chunks(zones):
        some = [zones[n] for n in chunk]
        way = _way(some, [until_s[n] for n in chunk], [limits[n] for n in chunk])
        found.update(zip(chunk, _advanced(some, way, air, parameters, stop_when_dry), strict=True))
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


def _chunks(zones: Sequence[MemberZone]) -> list[list[int]]:
    """Zones dried together: of like many coats, so that few cells are padding, and as many in each chunk."""
    order = sorted(range(len(zones)), key=lambda n: len(zones[n].coats))
    chunks = math.ceil(sum(zone.members for zone in zones) / COLUMNS)
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
    shells = shells_of_members(zones, parameters).as_precise_as(PRECISION)
    weather = _weather(air, zones[0].members)
    arrived = March(shells, state_of_members(zones, PRECISION), way, weather, PACE, stop).to_the_end()
    return [_taken_out(zone, n, arrived) for n, zone in enumerate(zones)]


def _weather(air: AirSeries | MemberAir, members: int) -> Weather:
    if isinstance(air, AirSeries):
        return lambda start_s, end_s, _: air.mean(start_s, end_s)
    return lambda start_s, end_s, columns: air.mean(start_s, end_s, columns % members)


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
