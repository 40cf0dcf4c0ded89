"""When a mould will be ready, as its members have it, and how much of them must agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.members import MemberAir, MemberZone, advance_members
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import Limits

Array = NDArray[np.float64]


@dataclass(frozen=True)
class When:
    """When each member's slowest zone comes to its limits, (members,); nan where not by the end."""

    ready_s: Array
    dry_s: Array


def forecast(
    zones: Sequence[MemberZone],
    until_s: float,
    air: AirSeries | MemberAir,
    parameters: Parameters,
    limits: Limits,
    stop_when_dry: bool = True,
) -> When:
    """Dry the zones of one mould on from now, in the air that comes, until each member is at both limits.

    A member that is at a limit now is so since now. Raises as `members.advance_members`; ValueError without a zone.
    """
    if not zones:
        raise ValueError("a mould has at least one zone")
    each = [until_s] * len(zones)
    done = advance_members(zones, each, air, parameters, [limits] * len(zones), stop_when_dry)
    return When(
        slowest(np.stack([one.ready_s for one in done])), slowest(np.stack([one.dry_s for one in done]))
    )


def slowest(times: Array) -> Array:
    """The latest of the zones (zones, members), a member; nan where one of them does not get there."""
    out: Array = times.max(axis=0)
    return out


def quantile(times: Array, share: float) -> float | None:
    """The time by which a share (0..1) of the members is there; None if that is one that does not get there.

    Members that do not get there (nan) are later than all others. The n-th of N members stands for (n - 1/2) / N, and
    between two of them it goes in a straight line (Hazen's plotting position, from memory).
    Raises ValueError for a share outside 0..1, or without members.
    """
    if not 0.0 <= share <= 1.0 or times.size == 0:
        raise ValueError("a share lies between 0 and 1, and is one of some members")
    in_order = np.sort(times)
    place = float(np.clip(share * times.size - 0.5, 0.0, times.size - 1))
    low, high = in_order[int(np.floor(place))], in_order[int(np.ceil(place))]
    found = low + (place - np.floor(place)) * (high - low)
    return float(found) if np.isfinite(found) else None
