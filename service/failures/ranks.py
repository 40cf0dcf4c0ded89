"""A number in failed and sound shells: the exact test of rank sums, ties counted as they are.

Mann and Whitney, Ann. Math. Stat. 18 (1947) 50, on midranks. With ties the tabulated distribution is wrong, so the
distribution of these very ranks is counted (the shift algorithm: B. Streitberg and J. Röhmel, Stat. Softw. Newsl. 12
(1986) 10). Where that would take too long, or over several recipes, ways of choosing the failed shells are drawn at
random until enough were as extreme (J. Besag and P. Clifford, Biometrika 78 (1991) 301). Over recipes the rank sums
are added with the weights of P. van Elteren, Bull. Inst. Int. Stat. 37 (1960) 351, and shells change places only
within their recipe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

MOST_COUNTED = 20_000_000
"""Additions that counting may take, a few hundredths of a second."""
ENOUGH = 50
"""So many drawn as extreme as what was seen: p is then known to about a seventh of itself."""
BATCH = 2000
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Group:
    """Values of failed and of sound shells, of all of them or of one recipe."""

    failed: Floats
    sound: Floats


@dataclass(frozen=True, slots=True)
class Ranked:
    """One group in ranks. Doubled, so that midranks are whole numbers."""

    doubled: Whole  # in order, so that the shells' own order plays no part
    few: int  # the smaller side's number, ...
    sign: int  # ... and 1 if that side is the failed ones, else -1
    off: int  # how far the doubled rank sum of the failed is from what chance makes of it, on average

    @property
    def many(self) -> int:
        return len(self.doubled)

    @property
    def middle(self) -> int:
        return self.few * (self.many + 1)


def ranked(group: Group) -> Ranked:
    from scipy.stats import rankdata  # SciPy is loaded when first needed, not at the start

    doubled = np.rint(2 * rankdata(np.concatenate([group.failed, group.sound]))).astype(np.int64)
    n, m = len(group.failed), len(group.sound)
    sign = 1 if n <= m else -1
    return Ranked(np.sort(doubled), min(n, m), sign, int(doubled[:n].sum()) - n * (n + m + 1))


def rank_test(groups: Sequence[Group], most_draws: int, seed: int) -> tuple[float, int | None]:
    """Two-sided p, and how many ways were drawn; None: all were counted."""
    every = [ranked(group) for group in groups]
    if len(every) == 1 and _work(every[0]) <= MOST_COUNTED:
        return counted_p(every[0]), None
    return drawn_p(every, most_draws, np.random.default_rng(seed))


def _work(ranks: Ranked) -> int:
    return ranks.many * ranks.few * _top(ranks)


def _top(ranks: Ranked) -> int:
    """The largest sum of the smaller side, over the smallest rank."""
    over = ranks.doubled - ranks.doubled[0]
    return int(over[ranks.many - ranks.few :].sum())


def counted_p(ranks: Ranked) -> float:
    """Of all ways of choosing the failed ones: the share with a rank sum at least as far from the middle."""
    over = ranks.doubled - ranks.doubled[0]
    ways = np.zeros((ranks.few + 1, _top(ranks) + 1))
    ways[0, 0] = 1.0
    for step in over:
        ways[1:, step:] += ways[:-1, : ways.shape[1] - step]
    sums = np.arange(ways.shape[1]) + ranks.few * int(ranks.doubled[0])
    far = np.abs(sums - ranks.middle) >= abs(ranks.off)
    return min(float(ways[-1, far].sum() / ways[-1].sum()), 1.0)


def drawn_p(every: Sequence[Ranked], most_draws: int, random: np.random.Generator) -> tuple[float, int]:
    """The same from random ways, and how many were drawn. Stops once `ENOUGH` were as far off."""
    seen = abs(sum(ranks.off / (ranks.many + 1) for ranks in every)) * (1 - SAME)
    far, drawn = 0, 0
    while drawn < most_draws:
        count = min(BATCH, most_draws - drawn)
        off = sum(_drawn_off(ranks, count, random) / (ranks.many + 1) for ranks in every)
        hits = np.flatnonzero(np.abs(off) >= seen)
        if far + len(hits) >= ENOUGH:
            drawn += int(hits[ENOUGH - far - 1]) + 1
            return ENOUGH / drawn, drawn
        far, drawn = far + len(hits), drawn + count
    return (far + 1) / (drawn + 1), drawn


def _drawn_off(ranks: Ranked, count: int, random: np.random.Generator) -> Floats:
    """How far off the middle the rank sum of the failed is in `count` random choices.

    Each choice without repeats, by Floyd's method (J. Bentley, Commun. ACM 30 (1987) 754), all choices at once.
    """
    taken = np.zeros((count, ranks.many), dtype=bool)
    row, sums = np.arange(count), np.zeros(count)
    for last in range(ranks.many - ranks.few, ranks.many):
        pick = random.integers(0, last + 1, count)
        pick = np.where(taken[row, pick], last, pick)
        taken[row, pick] = True
        sums += ranks.doubled[pick]
    return ranks.sign * (sums - ranks.middle)


def least_p(groups: Sequence[Group]) -> float:
    """The smallest p that these values could have given: all failed shells at the farther end, in every group."""
    every = [ranked(group) for group in groups]
    high, low = (_all_at_end(every, side) for side in (1, -1))
    if abs(high[1] - low[1]) <= SAME * max(high[1], low[1]):
        return min(high[0] + low[0], 1.0)
    return high[0] if high[1] > low[1] else low[0]


def _all_at_end(every: Sequence[Ranked], side: int) -> tuple[float, float]:
    """How likely it is that the failed have the highest (or lowest) ranks in all groups, and how far off that is."""
    ends = [_at_end(ranks, side * ranks.sign) for ranks in every]
    off = sum(off / (ranks.many + 1) for (_, off), ranks in zip(ends, every, strict=True))
    return math.prod(chance for chance, _ in ends), off


def _at_end(ranks: Ranked, side: int) -> tuple[float, int]:
    """The share of choices of the smaller side that take the highest (or lowest) ranks; how far off that is."""
    ordered = side * ranks.doubled[::-side]
    cut = ordered[ranks.few - 1]
    tied, needed = int((ordered == cut).sum()), ranks.few - int((ordered > cut).sum())
    off = int(ordered[: ranks.few].sum()) - side * ranks.middle
    return math.comb(tied, needed) / math.comb(ranks.many, ranks.few), off


def superiority(groups: Sequence[Group]) -> float:
    """Of all pairs of a failed and a sound shell of one group: the share in which the failed one has more; ties half.

    The "common language effect size" (K. O. McGraw and S. P. Wong, Psychol. Bull. 111 (1992) 361), U / (n m).
    """
    pairs = won = 0.0
    for group in groups:
        n, m = len(group.failed), len(group.sound)
        won += (ranked(group).off + n * m) / 2
        pairs += n * m
    return won / pairs


def shift(groups: Sequence[Group]) -> float:
    """The middle of all differences, failed minus sound, within groups.

    J. L. Hodges and E. L. Lehmann, Ann. Math. Stat. 34 (1963) 598.
    """
    return float(np.median(np.concatenate([np.subtract.outer(g.failed, g.sound).ravel() for g in groups])))
