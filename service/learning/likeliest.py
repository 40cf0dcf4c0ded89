"""The one life that is likeliest, as multipliers for the plain computation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.learning.check import check
from service.learning.site import Belief
from service.learning.story import Story
from service.learning.unknowns import Unknowns, unknowns_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Numbers:
    """The likeliest multipliers of one zone: at each dip (dips,), each coat (dips,), and its pocket."""

    transfer: Array
    sorptivity: Array
    diffusivity: Array
    thickness: Array
    stirring: float


def learned_numbers(story: Story, belief: Belief) -> tuple[Numbers, ...]:
    """The likeliest multipliers of a mould of which nothing was heard, zone by zone; nothing is played."""
    check(story)
    unknowns = unknowns_of(story)
    mean, _ = unknowns.start(*belief.about(unknowns.effects))
    return likeliest(unknowns, mean)


def likeliest(unknowns: Unknowns, mean: Array) -> tuple[Numbers, ...]:
    """Each zone's multipliers where the unknowns are at their mean (d,): medians, the logarithms being normal."""
    return tuple(
        Numbers(
            np.exp(transfer @ mean),
            np.exp(unknowns.sorptivity @ mean),
            np.exp(unknowns.diffusivity @ mean),
            np.exp(unknowns.thickness @ mean),
            float(np.exp(stirring @ mean)),
        )
        for transfer, stirring in zip(unknowns.transfer, unknowns.stirring, strict=True)
    )
