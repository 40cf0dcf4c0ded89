"""What is thought of the shop, as multipliers somebody can look at: the likely one, and what most would lie between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from service.learning.site import NOTHING_HEARD, Belief
from service.learning.story import Effects

MOST = 0.8
"""The share of the doubt that lies between low and high: 10 to 90 %."""


@dataclass(frozen=True, slots=True)
class Range:
    """A multiplier, or several that act together as their product. 1: as the plain model has it.

    learned: the share (0..1) of the doubt about it (of the variance of its logarithm) that evidence has taken away.
    """

    effects: Effects
    low: float
    likely: float
    high: float
    learned: float


def ranges(belief: Belief, asked: Sequence[Effects], share: float = MOST) -> tuple[Range, ...]:
    """One for each of `asked`, also where nothing was learned yet.

    Ask for what acts together as one, such as a hook's draught with its shop's: evidence tells more about a product
    than about either. Raises ValueError for a share that is not between 0 and 1.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("a share lies between 0 and 1")
    return tuple(_range(belief, effects, NormalDist().inv_cdf(0.5 + 0.5 * share)) for effects in asked)


def _range(belief: Belief, effects: Effects, reach: float) -> Range:
    mean, covariance = belief.about(effects)
    _, unlearned = NOTHING_HEARD.about(effects)
    spread = float(np.sqrt(covariance.sum()))
    low, likely, high = (float(np.exp(mean.sum() + step * spread)) for step in (-reach, 0.0, reach))
    learned = 1.0 - float(covariance.sum() / unlearned.sum()) if effects else 0.0
    return Range(effects, low, likely, high, min(max(learned, 0.0), 1.0))
