"""Members' lives played through, stopping wherever something was heard, to see what each would have shown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.members import Advanced, MemberZone, advance_members, dip_members, hang_members
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from service.learning.story import Evidence, FaceRead, Redipped, Story, Weighed
from service.learning.unknowns import Unknowns

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shown:
    """What each member would have shown of one piece of evidence, (members,): kg of shell, K, or saturation.

    coats: how many lay there. lost_kg: water that had left since the newest dip, on average; of weighings.
    """

    values: Array
    coats: int
    lost_kg: float = 0.0


@dataclass(frozen=True)
class Lived:
    """The lives of one mould's members, as in `smoother.Learnt`. shown: one for each piece of evidence."""

    laid: tuple[MemberZone, ...]
    now: tuple[MemberZone, ...]
    ready_s: Array
    dry_s: Array
    shown: tuple[Shown, ...]


def play(
    stories: Sequence[Story],
    unknowns: Sequence[Unknowns],
    members: Sequence[Array],
    air: AirSeries,
    parameters: Parameters,
) -> list[Lived]:
    """Each story's members (d, members) through their lives. All stories hang in the same air and go on together."""
    lives = [_Life(*each, air, parameters) for each in zip(stories, unknowns, members, strict=True)]
    stops = [life.stops() for life in lives]
    while going := [
        (life, until_s)
        for life, stop in zip(lives, stops, strict=True)
        if (until_s := next(stop, None)) is not None
    ]:
        done = iter(
            advance_members(
                [zone for life, _ in going for zone in life.now],
                [until_s for life, until_s in going for _ in life.now],
                air,
                parameters,
                [life.limits for life, _ in going for _ in life.now],
            )
        )
        for life, _ in going:
            life.dried([next(done) for _ in life.now])
    return [life.lived() for life in lives]


class _Life:
    """One mould on its way. `stops` gives the instants to which it must be dried, and does there what befell it."""

    def __init__(
        self, story: Story, unknowns: Unknowns, x: Array, air: AirSeries, parameters: Parameters
    ) -> None:
        self.story, self.unknowns, self.x, self.parameters = story, unknowns, x, parameters
        first_s = story.dips[0].at_s
        air_k = float(air.at(np.array([first_s])).temperature_k[0])
        self.now = [hang_members(zone.shape, air_k, first_s, x.shape[1]) for zone in story.zones]
        self.laid = self.now
        self.area_m2 = np.exp(unknowns.area @ x) * np.array([[zone.area_m2] for zone in story.zones])
        self.ready_s = self.dry_s = np.full((len(self.now), x.shape[1]), np.nan)
        self.coats = 0
        self.shown: dict[int, Shown] = {}

    @property
    def limits(self) -> Limits:
        return self.story.dips[self.coats - 1].limits

    def stops(self) -> Iterator[float]:
        for at_s, _, heard, number in _in_order(self.story):
            if at_s > self.now[0].time_s:
                yield at_s
            if heard:
                self.shown[number] = self._show(self.story.evidence[number])
            else:
                self._dip(number)
        if self.story.until_s > self.now[0].time_s:
            yield self.story.until_s

    def dried(self, zones: Sequence[Advanced]) -> None:
        """A wait goes on: whoever was at a limit and still is has been so since then."""
        start_s = self.now[0].time_s
        self.ready_s = _since(self.ready_s, np.stack([zone.ready_s for zone in zones]), start_s)
        self.dry_s = _since(self.dry_s, np.stack([zone.dry_s for zone in zones]), start_s)
        self.now = [zone.zone for zone in zones]

    def lived(self) -> Lived:
        shown = tuple(self.shown[i] for i in range(len(self.story.evidence)))
        return Lived(tuple(self.laid), tuple(self.now), self.ready_s, self.dry_s, shown)

    def _dip(self, n: int) -> None:
        given = self.story.dips[n]
        self.now = self.laid = [
            dip_members(
                zone, given.coat, given.immersion_s, self.unknowns.laid(self.x, k, n), self.parameters
            )
            for k, zone in enumerate(self.now)
        ]
        self.coats = n + 1
        newest = np.stack([zone.newest_saturation for zone in self.now])
        share = np.stack([zone.water_share for zone in self.now])
        self.ready_s = np.where(newest <= self.limits.ready_saturation, given.at_s, np.nan)
        self.dry_s = np.where(share <= self.limits.water_share, given.at_s, np.nan)

    def _show(self, evidence: Evidence) -> Shown:
        if isinstance(evidence, Weighed):
            lost_kg = self._mass_kg(self.laid) - self._mass_kg(self.now)
            return Shown(self._mass_kg(self.now), self.coats, float(lost_kg.mean()))
        if isinstance(evidence, FaceRead):
            return Shown(self.now[evidence.zone].surface_k, self.coats)
        newest = np.stack([zone.newest_saturation for zone in self.now])
        one = None if isinstance(evidence, Redipped) else evidence.zone
        return Shown(newest.max(axis=0) if one is None else newest[one], self.coats)

    def _mass_kg(self, zones: Sequence[MemberZone]) -> Array:
        if self.coats == 0:
            return np.zeros(self.x.shape[1])
        masses = np.stack([zone.dry_mass_kg_m2 + zone.water_kg_m2 for zone in zones])
        out: Array = (self.area_m2 * masses).sum(axis=0)
        return out


def _since(before: Array, after: Array, start_s: float) -> Array:
    return np.where(np.isfinite(before) & (after == start_s), before, after)


def _in_order(story: Story) -> list[tuple[float, int, bool, int]]:
    """What befell the mould: when, what comes first at one instant, whether it was heard (or a dip), its index.

    What was heard at the very time of a dip is about the shell before it; but nothing can be felt before the first.
    """
    dips = [(dip.at_s, 1, False, n) for n, dip in enumerate(story.dips)]
    heard = [(*_place(story, evidence), True, i) for i, evidence in enumerate(story.evidence)]
    return sorted([*dips, *heard])


def _place(story: Story, evidence: Evidence) -> tuple[float, int]:
    if isinstance(evidence, Redipped):
        return story.dips[evidence.coat].at_s, 0
    bare = evidence.at_s <= story.dips[0].at_s
    if isinstance(evidence, Weighed):
        return evidence.at_s, 0
    return evidence.at_s, 2 if bare else 0
