"""The exact rank-sum test against a published example, SciPy's own, plain counting, and what holds for any values."""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kstest, mannwhitneyu, permutation_test, rankdata

from service.failures import ranks
from service.failures.ranks import (
    ENOUGH,
    Group,
    counted_p,
    drawn_p,
    least_p,
    rank_test,
    ranked,
    shift,
    superiority,
)

MANY = 20_000


def group(failed: list[float], sound: list[float]) -> Group:
    return Group(np.array(failed, dtype=float), np.array(sound, dtype=float))


TERM = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
EARLIER = [1.15, 0.88, 0.90, 0.74, 1.21]


def by_counting(failed: list[float], sound: list[float]) -> float:
    """Every way of choosing the failed ones, one by one."""
    values = rankdata([*failed, *sound])
    n, middle = len(failed), len(failed) * (len(values) + 1) / 2
    seen = abs(values[:n].sum() - middle)
    ways = [abs(values[list(some)].sum() - middle) for some in combinations(range(len(values)), n)]
    return float(np.mean([way >= seen - 1e-9 for way in ways]))


class TestPublished:
    def test_permeability_of_membranes(self) -> None:
        """M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods (1973), p. 69 (chorioamnion at term and
        earlier; the data as in R's help page of wilcox.test): W = 35, one-sided p = 0.1272, so 0.2544 two-sided."""
        p, drawn = rank_test([group(TERM, EARLIER)], MANY, 1)
        assert drawn is None
        assert p == pytest.approx(0.2544, abs=5e-5)
        assert superiority([group(TERM, EARLIER)]) * 50 == pytest.approx(35)

    def test_the_shift_of_the_same(self) -> None:
        """Hodges and Lehmann's estimate for these data, 0.305 by Hollander and Wolfe (from memory) and by hand: the
        middle of 50 differences."""
        by_hand = sorted(x - y for x, y in product(TERM, EARLIER))
        assert shift([group(TERM, EARLIER)]) == pytest.approx((by_hand[24] + by_hand[25]) / 2)
        assert shift([group(TERM, EARLIER)]) == pytest.approx(0.305, abs=5e-4)

    def test_three_against_three(self) -> None:
        """The smallest entry of every table of the rank sum: 3 and 3 wholly apart, 2 ways of 20."""
        p, drawn = rank_test([group([4, 5, 6], [1, 2, 3])], MANY, 1)
        assert p == pytest.approx(0.1)
        assert drawn is None


values = st.lists(st.integers(0, 6).map(float), min_size=1, max_size=6)
apart = st.lists(st.floats(-9, 9, allow_nan=False), min_size=8, max_size=22, unique=True)


class TestCounted:
    @given(values, values)
    @settings(max_examples=100, deadline=None)
    def test_ties_and_all_are_counted_one_by_one(self, failed: list[float], sound: list[float]) -> None:
        assert counted_p(ranked(group(failed, sound))) == pytest.approx(by_counting(failed, sound))

    @given(apart, st.integers(2, 6))
    @settings(max_examples=60, deadline=None)
    def test_without_ties_it_is_scipys(self, every: list[float], n: int) -> None:
        theirs = mannwhitneyu(every[:n], every[n:], method="exact").pvalue
        assert counted_p(ranked(group(every[:n], every[n:]))) == pytest.approx(theirs)

    def test_with_ties_it_is_scipys_permutations_and_not_its_table(self) -> None:
        failed, sound = [2.0, 2, 3, 3, 3], [1.0, 1, 2, 2, 2, 2, 3]

        def off(x: np.ndarray, y: np.ndarray) -> float:
            return abs(float(rankdata([*x, *y])[: len(x)].sum()) - len(x) * (len(x) + len(y) + 1) / 2)

        theirs = permutation_test(
            (failed, sound), off, n_resamples=np.inf, alternative="greater", vectorized=False
        )
        p = counted_p(ranked(group(failed, sound)))
        assert p == pytest.approx(theirs.pvalue)
        assert abs(p - mannwhitneyu(failed, sound, method="exact").pvalue) > 0.01

    @given(values, values)
    @settings(max_examples=60, deadline=None)
    def test_swapping_changes_nothing_but_the_side(self, failed: list[float], sound: list[float]) -> None:
        one, other = group(failed, sound), group(sound, failed)
        assert counted_p(ranked(one)) == pytest.approx(counted_p(ranked(other)))
        assert superiority([one]) == pytest.approx(1 - superiority([other]))
        assert shift([one]) == pytest.approx(-shift([other]))

    @given(values, values)
    @settings(max_examples=60, deadline=None)
    def test_only_the_order_matters(self, failed: list[float], sound: list[float]) -> None:
        one = group(failed, sound)
        bent = Group(np.exp(one.failed) + 3, np.exp(one.sound) + 3)
        assert counted_p(ranked(bent)) == pytest.approx(counted_p(ranked(one)))
        assert superiority([bent]) == pytest.approx(superiority([one]))
        assert least_p([bent]) == pytest.approx(least_p([one]))

    def test_all_the_same(self) -> None:
        same = group([1, 1, 1], [1, 1, 1, 1])
        assert counted_p(ranked(same)) == 1
        assert superiority([same]) == 0.5
        assert least_p([same]) == pytest.approx(1)

    @given(values, values)
    @settings(max_examples=80, deadline=None)
    def test_none_is_rarer_than_the_least(self, failed: list[float], sound: list[float]) -> None:
        """The rarest of all ways of choosing as many failed ones from the same values."""
        every, n = [*failed, *sound], len(failed)
        found = []
        for some in combinations(range(len(every)), n):
            rest = [every[i] for i in range(len(every)) if i not in some]
            found.append(counted_p(ranked(group([every[i] for i in some], rest))))
            if len(found) > 60:
                break
        assert least_p([group(failed, sound)]) <= min(found) + 1e-12
        if len(found) <= 60:
            assert least_p([group(failed, sound)]) == pytest.approx(min(found))


class TestDrawn:
    def test_comes_near_what_is_counted(self) -> None:
        draw = np.random.default_rng(8)
        for off in (0.0, 0.5, 1.0):
            some = Group(draw.normal(off, 1, 12), draw.normal(0, 1, 30))
            exact = counted_p(ranked(some))
            p, drawn = drawn_p([ranked(some)], 100_000, np.random.default_rng(1))
            assert p == pytest.approx(exact, rel=0.5)
            assert drawn <= 100_000

    def test_stops_once_enough_were_as_far_off(self) -> None:
        p, drawn = drawn_p([ranked(group([1, 4, 6, 9], [2, 3, 5, 7, 8]))], 100_000, np.random.default_rng(3))
        assert drawn < 2000
        assert p == ENOUGH / drawn

    def test_is_never_nought(self) -> None:
        far = Group(np.arange(60.0) + 1000, np.arange(300.0))
        p, drawn = drawn_p([ranked(far)], 5000, np.random.default_rng(3))
        assert (p, drawn) == (1 / 5001, 5000)

    def test_the_same_seed_gives_the_same(self) -> None:
        draw = np.random.default_rng(2)
        some = [Group(draw.normal(0.3, 1, 200), draw.normal(0, 1, 600))]
        assert rank_test(some, MANY, 5) == rank_test(some, MANY, 5)
        assert rank_test(some, MANY, 5)[1] is not None

    def test_every_choice_is_as_likely_and_without_repeats(self) -> None:
        """Sums of 2 of the ranks 1 to 5, doubled: each of the ten pairs a tenth."""
        ranks_of = ranked(group([1, 2], [3, 4, 5]))
        off = ranks._drawn_off(ranks_of, 60_000, np.random.default_rng(4))
        sums = np.rint((off + ranks_of.middle) / 2).astype(int)
        expected = {3: 1, 4: 1, 5: 2, 6: 2, 7: 2, 8: 1, 9: 1}
        for total, ways in expected.items():
            assert np.mean(sums == total) == pytest.approx(ways / 10, abs=0.01)


class TestWithinRecipes:
    def test_is_the_weighted_sum_counted_one_by_one(self) -> None:
        """Van Elteren's statistic, shells changing places within their recipe only."""
        first, second = group([3, 7, 8], [1, 2, 7, 4]), group([5, 6], [2, 5, 1])
        weighed = []
        for each in (first, second):
            ranks_of = rankdata(np.concatenate([each.failed, each.sound]))
            n, size = len(each.failed), len(ranks_of)
            ways = [ranks_of[list(some)].sum() for some in combinations(range(size), n)]
            weighed.append([(way - n * (size + 1) / 2) / (size + 1) for way in ways])
        seen = abs(weighed[0][0] + weighed[1][0])  # the first combination is the failed ones
        exact = np.mean([abs(a + b) >= seen - 1e-9 for a, b in product(*weighed)])
        p, drawn = drawn_p([ranked(first), ranked(second)], 60_000, np.random.default_rng(6))
        assert drawn > 0
        assert p == pytest.approx(exact, rel=0.4)
        far = drawn_p([ranked(first), ranked(second)], 60_000, np.random.default_rng(7))[0]
        assert far == pytest.approx(exact, rel=0.4)

    def test_many_small_draws_agree_on_the_exact_share(self) -> None:
        """Sequential draws are a little off each time and right on average (of 1 / p)."""
        two = [ranked(group([3, 7, 8], [1, 2, 7, 4])), ranked(group([5, 6], [2, 5, 1]))]
        turned = [ranked(group([1, 2, 7, 4], [3, 7, 8])), ranked(group([2, 5, 1], [5, 6]))]
        ps, qs = (
            [1 / drawn_p(each, 60_000, np.random.default_rng(seed))[0] for seed in range(60)]
            for each in (two, turned)
        )
        assert np.mean(ps) == pytest.approx(np.mean(qs), rel=0.06)

    def test_a_difference_between_recipes_only_is_none_within(self) -> None:
        """One recipe is thick and fails often, the other thin and seldom: within each there is nothing."""
        draw = np.random.default_rng(5)
        thick = Group(draw.normal(9, 0.5, 30), draw.normal(9, 0.5, 10))
        thin = Group(draw.normal(6, 0.5, 5), draw.normal(6, 0.5, 60))
        together = Group(
            np.concatenate([thick.failed, thin.failed]), np.concatenate([thick.sound, thin.sound])
        )
        assert rank_test([together], MANY, 1)[0] < 1e-3
        assert rank_test([thick, thin], MANY, 1)[0] > 0.05
        assert superiority([together]) > 0.75
        assert superiority([thick, thin]) == pytest.approx(0.5, abs=0.12)

    def test_one_recipe_alone_is_counted(self) -> None:
        assert rank_test([group([1, 2], [3, 4, 5])], MANY, 1)[1] is None

    def test_the_least_over_recipes(self) -> None:
        first, second = group([1, 2], [3, 4, 5]), group([1], [2, 3])
        assert least_p([first, second]) == pytest.approx(2 / (math.comb(5, 2) * 3))


class TestChance:
    def test_without_a_difference_every_p_is_as_likely(self) -> None:
        """Four hundred pairs of groups from one bell curve (fixed seed): their p lie evenly between 0 and 1."""
        draw = np.random.default_rng(2026)
        ps = [
            rank_test([Group(draw.normal(0, 1, 12), draw.normal(0, 1, 40))], MANY, i)[0] for i in range(400)
        ]
        assert kstest(ps, "uniform").pvalue > 0.01

    def test_nor_are_drawn_ones_called_too_often(self) -> None:
        draw, called = np.random.default_rng(77), 0
        for i in range(400):
            some = [Group(draw.integers(0, 4, 6) / 1.0, draw.integers(0, 4, 9) / 1.0) for _ in range(2)]
            called += drawn_p([ranked(g) for g in some], 2000, np.random.default_rng(i))[0] <= 0.05
        assert called / 400 <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 400)
