"""Corrections for many comparisons against published examples and SciPy's own."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import false_discovery_control

from service.failures.correction import benjamini_hochberg, holm

THROMBOLYSIS = [
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.3240,
    0.4262,
    0.5719,
    0.6528,
    0.7590,
    1.0000,
]
"""Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289, section 4.1: 15 comparisons of two treatments after
a heart attack, in order."""


class TestPublished:
    def test_the_fifteen_of_the_thrombolysis_trial(self) -> None:
        """By the paper Bonferroni's way calls three at 0.05 and the false discovery rate four."""
        assert sum(p * 15 <= 0.05 for p in THROMBOLYSIS) == 3
        assert sum(p <= 0.05 for p in holm(THROMBOLYSIS)) == 3
        assert sum(p <= 0.05 for p in benjamini_hochberg(THROMBOLYSIS)) == 4
        assert benjamini_hochberg(THROMBOLYSIS)[3] == pytest.approx(15 / 4 * 0.0095)

    def test_four_by_holm(self) -> None:
        """The usual example of four, p = 0.01, 0.04, 0.03, 0.005 at 0.05: the last and the first stand (from memory;
        the corrected values by hand from S. Holm, Scand. J. Stat. 6 (1979) 65)."""
        assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])


shares = st.lists(st.floats(0, 1), min_size=1, max_size=20)


class TestAny:
    @given(shares)
    @settings(deadline=None)
    def test_discovery_is_scipys(self, ps: list[float]) -> None:
        assert benjamini_hochberg(ps) == pytest.approx(list(false_discovery_control(ps)))

    @given(shares)
    def test_holm_lies_between_the_bare_p_and_bonferroni(self, ps: list[float]) -> None:
        for p, q, corrected in zip(ps, benjamini_hochberg(ps), holm(ps), strict=True):
            assert p <= corrected <= min(len(ps) * p, 1) + 1e-12
            assert q <= corrected + 1e-12

    @given(shares)
    def test_keeps_the_order(self, ps: list[float]) -> None:
        pairs = sorted(zip(ps, holm(ps), strict=True))
        assert [c for _, c in pairs] == sorted(c for _, c in pairs)

    def test_of_none_and_one(self) -> None:
        assert holm([]) == benjamini_hochberg([]) == []
        assert holm([0.03]) == benjamini_hochberg([0.03]) == [0.03]

    def test_at_the_limit_itself(self) -> None:
        assert holm([0.025, 0.8])[0] == 0.05
