"""The exact test of fourfold tables against published examples, SciPy's own, and what must hold for any table."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, fisher_exact
from scipy.stats.contingency import odds_ratio as scipy_odds_ratio

from service.failures.tables import Outcomes, Table, exact_p, least_p, odds_ratio

TEA = Table(3, 4, 1, 4)
TWINS = Table(2, 12, 15, 18)


class TestPublished:
    def test_fishers_tea(self) -> None:
        """R. A. Fisher, The Design of Experiments (1935), chapter II; A. Agresti, Categorical Data Analysis, the same
        table: three of four cups right is 17 in 70 one-sided, 34 in 70 (0.486) two-sided."""
        assert exact_p([TEA]) == pytest.approx(34 / 70, rel=1e-12)
        assert Outcomes([TEA]).chances()[-2:].sum() == pytest.approx(17 / 70, rel=1e-12)

    def test_the_odds_ratio_of_the_tea(self) -> None:
        """R, help page of fisher.test (example TeaTasting): 6.408309, one-sided 95 % from 0.3135693. From memory;
        tolerance 0.01 %, as R's root finder stops early."""
        ratio, low, _ = odds_ratio([TEA], doubt=0.1)
        assert ratio == pytest.approx(6.408309, rel=1e-4)
        assert low == pytest.approx(0.3135693, rel=1e-4)

    def test_fishers_criminal_twins(self) -> None:
        """Fisher's like-sex twins of convicts, R, help page of fisher.test (example Convictions): one-sided 0.0004652,
        odds ratio 0.0469, exact 95 % interval 0.003326 to 0.3632. From memory; tolerance 0.5 % on the interval."""
        outcomes = Outcomes([TWINS])
        assert outcomes.chances()[: 2 - outcomes.least + 1].sum() == pytest.approx(0.0004652, abs=5e-8)
        ratio, low, high = odds_ratio([TWINS])
        assert ratio == pytest.approx(0.04693661, rel=1e-5)
        assert (low, high) == pytest.approx((0.003325764, 0.363182271), rel=5e-3)

    def test_rabbits_over_five_tables(self) -> None:
        """Penicillin at once or after 1.5 h (Mantel, J. Am. Stat. Assoc. 58 (1963) 690; data as in R's help page of
        mantelhaen.test): exact conditional p = 0.040, two-sided, and 0.020 one-sided; common odds ratio 10.36, from
        memory."""
        cured = [(0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0)]
        tables = [Table(a, a + b, c, c + d) for a, b, c, d in cured]
        outcomes = Outcomes(tables)
        assert exact_p(tables) == pytest.approx(0.040, abs=5e-4)
        at = outcomes.seen - outcomes.least
        assert outcomes.chances()[at:].sum() == pytest.approx(0.020, abs=5e-4)
        assert odds_ratio(tables)[0] == pytest.approx(10.36, rel=1e-3)

    def test_admissions_of_six_departments(self) -> None:
        """Admissions at Berkeley 1973 (Bickel, Hammel and O'Connell, Science 187 (1975) 398; R's UCBAdmissions): over
        departments the Mantel and Haenszel odds ratio is 0.9047 and the difference is not clear (p = 0.22 without
        correction for continuity, from memory), while in one table it is 1.84 and beyond doubt."""
        counts = [
            (512, 313, 89, 19),
            (353, 207, 17, 8),
            (120, 205, 202, 391),
            (138, 279, 131, 244),
            (53, 138, 94, 299),
            (22, 351, 24, 317),
        ]
        tables = [Table(a, a + b, c, c + d) for a, b, c, d in counts]
        assert odds_ratio(tables)[0] == pytest.approx(0.9047, rel=1e-3)
        assert exact_p(tables) == pytest.approx(0.22, abs=0.02)
        a, b, c, d = np.sum(counts, axis=0)
        whole = [Table(int(a), int(a + b), int(c), int(c + d))]
        assert odds_ratio(whole)[0] == pytest.approx(1.84, rel=1e-2)
        assert exact_p(whole) < 1e-15


counts = st.integers(0, 12)


@st.composite
def some_table(draw: st.DrawFn) -> Table:
    failed, sound = draw(st.integers(1, 12)), draw(st.integers(1, 25))
    return Table(draw(st.integers(0, failed)), failed, draw(st.integers(0, sound)), sound)


def cells(t: Table) -> list[list[int]]:
    return [[t.failed_with, t.failed - t.failed_with], [t.sound_with, t.sound - t.sound_with]]


def swapped(t: Table) -> Table:
    return Table(t.sound_with, t.sound, t.failed_with, t.failed)


def turned(t: Table) -> Table:
    return Table(t.failed - t.failed_with, t.failed, t.sound - t.sound_with, t.sound)


class TestAnyTable:
    @given(some_table())
    @settings(max_examples=150, deadline=None)
    def test_is_scipys_where_there_is_one(self, table: Table) -> None:
        assert exact_p([table]) == pytest.approx(fisher_exact(cells(table)).pvalue, rel=1e-6)

    @given(some_table())
    @settings(max_examples=60, deadline=None)
    def test_the_odds_ratio_is_scipys(self, table: Table) -> None:
        low, high = table.ends
        if low == high:
            assert all(math.isnan(value) for value in odds_ratio([table]))
            return
        theirs = scipy_odds_ratio(cells(table))
        interval = theirs.confidence_interval(0.95)
        ratio, lower, upper = odds_ratio([table])
        assert (lower, upper) == pytest.approx((interval.low, interval.high), rel=1e-4)
        assert ratio == pytest.approx(theirs.statistic, rel=1e-4)

    @given(st.lists(some_table(), min_size=1, max_size=3))
    @settings(max_examples=60, deadline=None)
    def test_does_not_care_which_side_is_which(self, tables: list[Table]) -> None:
        p = exact_p(tables)
        assert exact_p([swapped(t) for t in tables]) == pytest.approx(p, rel=1e-6)
        assert exact_p([turned(t) for t in tables]) == pytest.approx(p, rel=1e-6)
        assert exact_p(tables[::-1]) == pytest.approx(p, rel=1e-6)

    @given(st.lists(some_table(), min_size=1, max_size=3))
    @settings(max_examples=60, deadline=None)
    def test_no_outcome_is_rarer_than_the_least(self, tables: list[Table]) -> None:
        outcomes = Outcomes(tables)
        every = [outcomes.p(count) for count in range(outcomes.least, outcomes.most + 1)]
        assert least_p(tables) == pytest.approx(min(every))
        assert outcomes.chances().sum() == pytest.approx(1)

    def test_swapping_turns_the_odds_over(self) -> None:
        ratio, low, high = odds_ratio([TWINS])
        assert odds_ratio([swapped(TWINS)]) == pytest.approx((1 / ratio, 1 / high, 1 / low), rel=1e-6)

    def test_a_recipe_that_says_nothing_changes_nothing(self) -> None:
        """All had it: the margins leave one outcome."""
        assert exact_p([TEA, Table(3, 3, 8, 8)]) == pytest.approx(exact_p([TEA]))
        assert odds_ratio([TEA, Table(3, 3, 8, 8)]) == pytest.approx(odds_ratio([TEA]))


class TestEmptyCells:
    def test_no_sound_one_had_it(self) -> None:
        ratio, low, high = odds_ratio([Table(4, 6, 0, 20)])
        assert ratio == high == math.inf
        assert 1 < low < 100

    def test_no_failed_one_had_it(self) -> None:
        ratio, low, high = odds_ratio([Table(0, 6, 12, 20)])
        assert ratio == low == 0
        assert 0 < high < 1.5

    def test_every_failed_one_had_it(self) -> None:
        ratio, low, _ = odds_ratio([Table(6, 6, 10, 20)])
        assert math.isinf(ratio)
        assert low > 0.5

    @pytest.mark.parametrize("table", [Table(0, 5, 0, 10), Table(5, 5, 10, 10)])
    def test_all_or_none_had_it(self, table: Table) -> None:
        assert exact_p([table]) == 1
        assert least_p([table]) == 1
        assert all(math.isnan(value) for value in odds_ratio([table]))

    def test_thousands_stay_finite(self) -> None:
        table = Table(150, 200, 300, 1800)
        ratio, low, high = odds_ratio([table])
        assert low < ratio < high < 50
        assert 0 < exact_p([table]) < 1e-50


class TestTheIntervalHolds:
    def test_it_covers_the_true_odds_at_least_as_often_as_it_says(self) -> None:
        """Every outcome of 6 failed and 15 sound shells, weighed by its chance at the true odds."""
        for rate_failed, rate_sound in product((0.1, 0.5, 0.9), (0.1, 0.4)):
            true = rate_failed / (1 - rate_failed) / (rate_sound / (1 - rate_sound))
            covered = 0.0
            for a, c in product(range(7), range(16)):
                chance = binom.pmf(a, 6, rate_failed) * binom.pmf(c, 15, rate_sound)
                _, low, high = odds_ratio([Table(a, 6, c, 15)])
                covered += chance * (math.isnan(low) or low <= true <= high)
            assert covered >= 0.95
