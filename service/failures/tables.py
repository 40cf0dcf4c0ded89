"""A yes or no in failed and sound shells: the exact test of a fourfold table, or of several, one a recipe.

With all margins fixed the number of failed shells that had it is hypergeometric (R. A. Fisher, The Design of
Experiments, 1935); over several tables it is the sum of such numbers (M. W. Birch, J. R. Stat. Soc. B 26 (1964) 313;
what Cochran's and Mantel and Haenszel's test approaches). The odds ratio is the conditional one, its interval exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SAME = 1 + 1e-7
"""Two outcomes as likely as each other to rounding."""
FARTHEST = 60.0
"""The largest log of an odds ratio that is looked for: beyond any that a shop's counts can give."""


@dataclass(frozen=True, slots=True)
class Table:
    """How many of the failed and of the sound shells had it."""

    failed_with: int
    failed: int
    sound_with: int
    sound: int

    @property
    def ends(self) -> tuple[int, int]:
        """The fewest and most failed shells that could have had it, with these margins."""
        had = self.failed_with + self.sound_with
        return max(0, had - self.sound), min(had, self.failed)


class Outcomes:
    """Every number of failed shells with it, over all tables, and how likely each is."""

    def __init__(self, tables: Sequence[Table]) -> None:
        from scipy.stats import hypergeom  # SciPy is loaded when first needed, not at the start

        self.seen = sum(t.failed_with for t in tables)
        self.least, self.most = (sum(t.ends[i] for t in tables) for i in (0, 1))
        self._logs = list[Floats]()
        for table in tables:
            low, high = table.ends
            had = table.failed_with + table.sound_with
            every = np.arange(low, high + 1)
            self._logs.append(hypergeom.logpmf(every, table.failed + table.sound, had, table.failed))

    def chances(self, log_odds: float = 0.0) -> Floats:
        """How likely each number is, where the odds are so many times larger in failed shells."""
        found = np.ones(1)
        for logs in self._logs:
            tilted = logs + log_odds * np.arange(len(logs))
            weights = np.exp(tilted - tilted.max())
            found = np.convolve(found, weights / weights.sum())
        return found

    def p(self, count: int) -> float:
        """All outcomes no likelier than this one, two-sided."""
        chances = self.chances()
        rare = chances <= chances[count - self.least] * SAME
        return min(float(chances[rare].sum()), 1.0)


def exact_p(tables: Sequence[Table]) -> float:
    """Two-sided: how often chance alone, with these margins, gives what was seen or something no likelier."""
    outcomes = Outcomes(tables)
    return outcomes.p(outcomes.seen)


def least_p(tables: Sequence[Table]) -> float:
    """The smallest p that any outcome with these margins has."""
    outcomes = Outcomes(tables)
    return min(outcomes.p(outcomes.least), outcomes.p(outcomes.most))


def odds_ratio(tables: Sequence[Table], doubt: float = 0.05) -> tuple[float, float, float]:
    """Conditional maximum likelihood, and the exact interval's ends. 0 and infinity are among the answers.

    All three are NaN where the margins leave one outcome only.
    """
    outcomes = Outcomes(tables)
    every, seen = np.arange(outcomes.least, outcomes.most + 1), outcomes.seen
    at = seen - outcomes.least
    if len(every) == 1:
        return math.nan, math.nan, math.nan
    lowest, highest = seen == outcomes.least, seen == outcomes.most

    def tail_up(t: float) -> float:
        return float(outcomes.chances(t)[at:].sum()) - doubt / 2

    def tail_down(t: float) -> float:
        return doubt / 2 - float(outcomes.chances(t)[: at + 1].sum())

    def too_many(t: float) -> float:
        return float(outcomes.chances(t) @ every) - seen

    middle = 0.0 if lowest else math.inf if highest else _odds_where(too_many)
    return (
        middle,
        0.0 if lowest else _odds_where(tail_up),
        math.inf if highest else _odds_where(tail_down),
    )


def _odds_where(rises_through_zero: Callable[[float], float]) -> float:
    from scipy.optimize import brentq

    return math.exp(brentq(rises_through_zero, -FARTHEST, FARTHEST, xtol=1e-9))
