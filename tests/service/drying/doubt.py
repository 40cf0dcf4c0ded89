"""Zones with members, and air that each has otherwise, for the tests of the drying computation."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.drying.members import Laid, MemberAir, MemberZone, advance_members, dip_members, hang_members
from service.drying.shell import Coat, ZoneShape
from service.drying.weather import AirSeries
from tests.service.drying.batches import BACKUP, FACE, LIMITS, PARAMETERS, PRIME, ROOM

HOUR_S = 3600.0
MEMBERS = 5
SHELL = (PRIME, PRIME, BACKUP)


def laid(seed: int = 0, count: int = MEMBERS) -> Laid:
    random = np.random.default_rng(seed)
    return Laid(*(np.exp(random.normal(0.0, spread, count)) for spread in (0.35, 0.3, 0.3, 0.5, 0.15)))


def wet(
    shape: ZoneShape = FACE, coats: Sequence[Coat] = SHELL, seed: int = 0, count: int = MEMBERS
) -> MemberZone:
    """Dipped every six hours, as each member dries."""
    zone = hang_members(shape, 294.15, 0.0, count)
    for n, coat in enumerate(coats):
        if n:
            (done,) = advance_members([zone], [n * 6 * HOUR_S], ROOM, PARAMETERS, [LIMITS])
            zone = done.zone
        zone = dip_members(zone, coat, 15.0, laid(seed + n, count), PARAMETERS)
    return zone


def modes(air: AirSeries, count: int = MEMBERS, swing: float = 0.1, seed: int = 3) -> MemberAir:
    """Warmer or cooler all along, and a damp spell that comes or does not."""
    t = np.array([-HOUR_S, 7 * HOUR_S, 20.5 * HOUR_S, 40 * HOUR_S])
    shares = np.random.default_rng(seed).normal(size=(count, 2))
    warmer = np.array([[1.0, 2.0, 1.0, 1.0], [0.0, 0.0, -1.0, 0.0]])
    return MemberAir(air, t, warmer, swing * np.array([[0.0, -0.5, 0.3, 0.2], [0.0, 1.0, 3.0, 0.0]]), shares)
