"""Many ways in which a case's mould may dry, each dipped at its own times.

A coat whose time is given goes on then in all of them; any other goes on when the one before it is ready there.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from service.drying.members import Advanced, MemberZone, advance_members, dip_members, hang_members
from service.drying.readiness import coat_needs_below_humidity, shell_needs_below_humidity
from service.drying.zone import Limits
from service.estimate.case import Case
from service.estimate.look_ahead import NO_LIMIT, followed_until_s
from service.learning.story import Story
from service.learning.unknowns import unknowns_of

Array = NDArray[np.float64]


class Ways:
    """The mould in each of its ways. dip_s: when its newest coat went on, (ways,); nan: it never did.

    x: what the ways are made of, (unknowns of the story, ways).
    """

    def __init__(self, case: Case, story: Story, x: Array) -> None:
        self.case, self.x, self.unknowns = case, x, unknowns_of(story)
        self.dip_s = np.full(x.shape[1], story.dips[0].at_s)
        self.coats = 0
        air_k = float(case.air.at(self.dip_s[:1]).temperature_k[0])
        self.zones = [
            [hang_members(zone.shape, air_k, zone_s, 1) for zone in story.zones] for zone_s in self.dip_s
        ]

    def dip(self, at_s: Array) -> None:
        """Lay the next coat at these instants, (ways,); no coat goes on any more in a way whose instant is nan."""
        if self.coats:
            self._dry_to(at_s)
        self.dip_s = at_s
        plan = self.case.coats[self.coats]
        for way in self._on:
            laid = [self.unknowns.laid(self.x[:, [way]], k, self.coats) for k in range(len(self.zones[way]))]
            self.zones[way] = [
                dip_members(zone, plan.coat, plan.immersion_s, own, self.case.parameters)
                for zone, own in zip(self.zones[way], laid, strict=True)
            ]
        self.coats += 1

    def ready_s(self) -> Array:
        """When the newest coat is ready if it is left alone, as its slowest zone has it, (ways,); nan: never."""
        plan, isotherm = self.case.coats[self.coats - 1], self.case.parameters.isotherm
        needs = coat_needs_below_humidity(plan.ready_saturation, plan.coat, isotherm)
        return self._left_alone(needs, Limits(plan.ready_saturation, NO_LIMIT))

    def dry_s(self) -> Array:
        """When the whole shell is dry if it is left alone, (ways,); nan: never."""
        on, isotherm = [plan.coat for plan in self.case.coats[: self.coats]], self.case.parameters.isotherm
        needs = shell_needs_below_humidity(self.case.water_limit, on, isotherm)
        return self._left_alone(needs, Limits(NO_LIMIT, self.case.water_limit))

    @property
    def _on(self) -> list[int]:
        """The ways in which the newest coat went on."""
        return np.flatnonzero(np.isfinite(self.dip_s)).tolist()

    def _dry_to(self, at_s: Array) -> None:
        going = np.flatnonzero(np.isfinite(at_s)).tolist()
        done = self._advance(going, [float(at_s[way]) for way in going], Limits(), False)
        for way, zones in zip(going, done, strict=True):
            self.zones[way] = [one.zone for one in zones]

    def _left_alone(self, needs_below: float, limits: Limits) -> Array:
        on, found = self._on, np.full(self.dip_s.size, np.nan)
        until = [followed_until_s(float(self.dip_s[way]), self.case.air, needs_below) for way in on]
        for way, zones in zip(on, self._advance(on, until, limits, True), strict=True):
            found[way] = max(float(np.maximum(one.ready_s, one.dry_s)[0]) for one in zones)
        return found

    def _advance(
        self, ways: Sequence[int], until_s: Sequence[float], limits: Limits, stop_when_dry: bool
    ) -> list[tuple[Advanced, ...]]:
        """All zones of these ways together, each to the time of its way."""
        zones: list[MemberZone] = list(chain.from_iterable(self.zones[way] for way in ways))
        each = len(self.case.zones)
        until = [at_s for at_s in until_s for _ in range(each)]
        air, parameters = self.case.air, self.case.parameters
        done = advance_members(zones, until, air, parameters, [limits] * len(zones), stop_when_dry)
        return [tuple(done[i : i + each]) for i in range(0, len(done), each)]
