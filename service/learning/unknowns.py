"""The unknown numbers of one mould's life: the shop's effects its story names, and what the mould has of its own.

All are logarithms of multipliers and add up, so every multiplier of every zone and dip is the exponential of a sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.members import Laid
from service.learning.effect import Effect, EffectKind
from service.learning.prior import AREA, PACE, own_spread
from service.learning.story import Effects, Story, StoryZone

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Unknowns:
    """Which of the d unknowns add up to what. The shop's `effects` come first, in their own order.

    own: standard deviations of the others, whose means are 0. Sums of 0 and 1: transfer (zones, dips, d); sorptivity,
    diffusivity, thickness (dips, d); stirring (zones, d); area (d,).
    """

    effects: Effects
    own: Array
    transfer: Array
    sorptivity: Array
    diffusivity: Array
    thickness: Array
    stirring: Array
    area: Array

    def start(self, mean: Array, covariance: Array) -> tuple[Array, Array]:
        """All unknowns before this mould was heard, from what is thought of the shop's effects."""
        shop = len(self.effects)
        whole = np.diag(np.concatenate([np.zeros(shop), self.own**2]))
        whole[:shop, :shop] = covariance
        return np.concatenate([mean, np.zeros(self.own.size)]), whole

    def laid(self, x: Array, zone: int, dip: int) -> Laid:
        """What the members x (d, members) make of a dip of one zone."""
        sums = (
            self.transfer[zone, dip],
            self.stirring[zone],
            self.sorptivity[dip],
            self.diffusivity[dip],
            self.thickness[dip],
        )
        return Laid(*(np.exp(row @ x) for row in sums))

    def bearing_on(self, coats: int, zones: Sequence[int], area: bool) -> Array:
        """The sums (q, d) that these zones with so many coats can depend on: no later dip, no other zone."""
        rows = [self.transfer[zone, :coats] for zone in zones]
        rows += [self.diffusivity[:coats], self.thickness[:coats], self.sorptivity[1:coats]]
        rows += [self.stirring[list(zones)]]
        return np.concatenate([*rows, self.area[None]] if area else rows)


def unknowns_of(story: Story) -> Unknowns:
    """What is not known of this story's mould."""
    make = _Maker(story)
    first = story.dips[0]
    pace = [make.own(PACE) for _ in story.dips]
    faces = [make.own(own_spread(EffectKind.DRAUGHT, first.draught)) for _ in story.zones]
    soaking = make.own(own_spread(EffectKind.SOAKING, first.soaking))
    drying = make.own(own_spread(EffectKind.DRYING, first.drying))
    transfer = [
        [[*make.shop(dip.draught), face, pace[n]] for n, dip in enumerate(story.dips)] for face in faces
    ]
    sorptivity = [[*make.shop(dip.soaking), soaking] for dip in story.dips]
    diffusivity = [[*make.shop(dip.drying), drying, pace[n]] for n, dip in enumerate(story.dips)]
    thickness = [
        [*make.shop(dip.thickness), make.own(own_spread(EffectKind.THICKNESS, dip.thickness))]
        for dip in story.dips
    ]
    stirring = [make.pocket(zone) for zone in story.zones]
    area = [make.own(AREA)]
    return Unknowns(
        make.effects,
        np.array(make.spreads),
        np.stack([make.sums(rows) for rows in transfer]),
        make.sums(sorptivity),
        make.sums(diffusivity),
        make.sums(thickness),
        make.sums(stirring),
        make.sums([area])[0],
    )


class _Maker:
    """Numbers the unknowns, the shop's effects first, and notes the spreads of the others."""

    def __init__(self, story: Story) -> None:
        self.effects: Effects = tuple(sorted(set(_effects(story))))
        self.spreads: list[float] = []

    def own(self, spread: float) -> int:
        self.spreads.append(spread)
        return len(self.effects) + len(self.spreads) - 1

    def shop(self, effects: Effects) -> list[int]:
        return [self.effects.index(effect) for effect in effects]

    def pocket(self, zone: StoryZone) -> list[int]:
        if zone.shape.pocket is None:
            return []
        return [*self.shop(zone.pocket), self.own(own_spread(EffectKind.POCKET, zone.pocket))]

    def sums(self, rows: Sequence[Sequence[int]]) -> Array:
        out = np.zeros((len(rows), len(self.effects) + len(self.spreads)))
        for ones, row in zip(out, rows, strict=True):
            ones[list(row)] = 1.0
        return out


def _effects(story: Story) -> Iterator[Effect]:
    for dip in story.dips:
        yield from (*dip.draught, *dip.drying, *dip.thickness, *dip.soaking)
    for zone in story.zones:
        if zone.shape.pocket is not None:
            yield from zone.pocket
