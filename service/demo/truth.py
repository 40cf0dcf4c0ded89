"""What the demo's shells really do. The service is not told: it weighs, feels and reads faces, and learns it.

Nobody has measured these either: they are assumed, and stand in demo.toml.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.drying.history import play_back
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import ZoneState
from service.records.facts import Zone, ZoneKind
from service.room.progress import Progress, lives

HOOK_KG = 0.35
SCALE_KG = 0.005
FACE_K = 0.4
HAND = 0.05
"""Standard deviations of one weighing, one face read, and of where a hand draws its line, in saturation (assumed)."""


@dataclass(frozen=True, slots=True)
class Truth:
    """How many times the usual numbers hold at Saltmarsh Bronze, and on its sheltered hooks besides.

    uneven: by how much one mould differs from the next in each, as a share.
    """

    draught: float = 1.0
    drying: float = 1.0
    thickness: float = 1.0
    sheltered_hooks: frozenset[str] = frozenset()
    sheltered: float = 1.0
    uneven: float = 0.0

    def numbers(self, usual: Parameters, name: str, hook: str) -> Parameters:
        """What the shell of one mould dries with."""
        chance = random.Random(f"{name} as it is")
        draught, drying, thickness = (math.exp(self.uneven * chance.gauss(0.0, 1.0)) for _ in range(3))
        shelter = self.sheltered if hook in self.sheltered_hooks else 1.0
        return replace(
            usual,
            transfer_multiplier=usual.transfer_multiplier * self.draught * shelter * draught,
            diffusivity_multiplier=usual.diffusivity_multiplier * self.drying * drying,
            thickness_multiplier=usual.thickness_multiplier * self.thickness * thickness,
        )

    def now(self, p: Progress, air: AirSeries, usual: Parameters, now_s: float) -> list[ZoneState]:
        """The zones of a mould with a coat on as they really are."""
        own = self.numbers(usual, p.body.name, p.body.hook)
        return [stretches[-1].dried.state for stretches in play_back(lives(p, now_s), air, own)]


def weighed_kg(states: Sequence[ZoneState], zones: Sequence[Zone], wax_kg: float, what: str) -> float:
    """Wax, hook and shell on a scale that shows 10 g. what: the same for the same weighing."""
    shell = sum(
        (state.dry_mass_kg_m2 + state.water_kg_m2) * outside_m2(zone)
        for state, zone in zip(states, zones, strict=True)
    )
    off = random.Random(f"{what} weighed").gauss(0.0, SCALE_KG)
    return round(HOOK_KG + wax_kg + shell + off, 2)


def read_k(state: ZoneState, what: str) -> float:
    """A face as an infrared gun shows it, to a tenth of a degree."""
    return round(state.surface_k + random.Random(f"{what} read").gauss(0.0, FACE_K), 1)


def feels_damp(states: Sequence[ZoneState], limit: float, what: str) -> bool:
    """Whether a hand finds the dampest place of the newest coat damp."""
    line = limit + random.Random(f"{what} felt").gauss(0.0, HAND)
    return max(state.newest_saturation for state in states) > line


def outside_m2(zone: Zone) -> float:
    """The area a coat covers, roughly: both faces of the zone's rectangle, or the walls of a pocket."""
    if zone.kind is ZoneKind.POCKET and zone.depth_m and zone.mouth_m:
        return (2.0 if zone.slot else 3.14) * zone.mouth_m * zone.depth_m
    return 2.0 * zone.height_m * zone.width_m
