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

    doubled: Whole
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
    return Ranked(doubled, min(n, m), sign, int(doubled[:n].sum()) - n * (n + m + 1))


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
    over = np.sort(ranks.doubled - ranks.doubled.min())
    return int(over[ranks.many - ranks.few :].sum())


def counted_p(ranks: Ranked) -> float:
    """Of all ways of choosing the failed ones: the share with a rank sum at least as far from the middle."""
    over = ranks.doubled - ranks.doubled.min()
    ways = np.zeros((ranks.few + 1, _top(ranks) + 1))
    ways[0, 0] = 1.0
    for step in over:
        ways[1:, step:] += ways[:-1, : ways.shape[1] - step]
    sums = np.arange(ways.shape[1]) + ranks.few * int(ranks.doubled.min())
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
    """The smallest p that these values could have given: all failed shells at one end, in every group."""
    chances = [(_at_end(r, r.sign), _at_end(r, -r.sign)) for r in map(ranked, groups)]
    highest, lowest = (math.prod(pair[i] for pair in chances) for i in (0, 1))
    one_way = len(groups) == 1 and _farther_end(ranked(groups[0]))
    if one_way:
        return highest if one_way > 0 else lowest
    return min(highest + lowest, 1.0)


def _at_end(ranks: Ranked, side: int) -> float:
    """The share of choices that take the highest (or lowest) ranks there are, ties as they fall."""
    ordered = np.sort(side * ranks.doubled)[::-1]
    cut = ordered[ranks.few - 1]
    tied, needed = int((ordered == cut).sum()), ranks.few - int((ordered > cut).sum())
    return math.comb(tied, needed) / math.comb(ranks.many, ranks.few)


def _farther_end(ranks: Ranked) -> int:
    """1 or -1: the end that is farther from the middle, 0 if both are as far."""
    ordered = np.sort(ranks.doubled)
    high = int(ordered[ranks.many - ranks.few :].sum()) - ranks.middle
    low = ranks.middle - int(ordered[: ranks.few].sum())
    return (high > low) - (high < low)


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
